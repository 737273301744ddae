"""What became of every input: tried, answered, refused, and the faults found, each kind once with the input that shows it."""

from __future__ import annotations

import hashlib
import json
import resource
import signal
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Literal

Kind = Literal["crash", "hang", "memory", "wrong answer"]

HANG_SECONDS = 5.0
"""Of processor time, so that other work on the machine does not count."""
MEMORY_BYTES = 256 * 1024 * 1024
"""By which one input may raise the most memory that the process ever held."""


class WrongAnswer(AssertionError):
    """An answer or a refusal that should not be as it is."""


class Hang(BaseException):
    """Processor time is used up; no `except Exception` of the code under test may swallow it."""


@dataclass
class Fault:
    """One thing that went wrong, and the first input that showed it."""

    kind: Kind
    what: str
    input: bytes
    count: int = 1


@dataclass
class Tally:
    """Counts of one run."""

    outcomes: Counter[str] = field(default_factory=Counter)
    faults: dict[str, Fault] = field(default_factory=dict)
    slowest_seconds: float = 0.0

    def try_out(self, judge: Callable[[bytes], str], data: bytes) -> str:
        """Judge one input and say what became of it; whatever is raised is a fault, noted once for each place it comes from."""
        memory = _most_memory()
        outcome = "fault"
        started = time.process_time()
        try:
            with _limited(HANG_SECONDS):
                outcome = judge(data)
                self.outcomes[outcome] += 1
        except Hang:
            self._fault("hang", f"more than {HANG_SECONDS:g} s of processor time", "hang", data)
        except WrongAnswer as error:
            self._fault("wrong answer", str(error), f"wrong {_family(str(error))}", data)
        except Exception as error:
            self._fault("crash", traceback.format_exc(limit=-12), _origin(error), data)
        self.slowest_seconds = max(self.slowest_seconds, time.process_time() - started)
        grown = _most_memory() - memory
        if grown > MEMORY_BYTES:
            self._fault("memory", f"{grown // 2**20} MiB for {len(data)} bytes", "memory", data)
        return outcome

    def _fault(self, kind: Kind, what: str, signature: str, data: bytes) -> None:
        self.outcomes[kind] += 1
        known = self.faults.get(signature)
        if known is None:
            self.faults[signature] = Fault(kind, what, data)
            return
        known.count += 1
        if len(data) < len(known.input):
            known.input, known.what = data, what

    def has(self, kind: Kind, says: str) -> bool:
        """Whether a fault of this kind was found that says so."""
        return any(fault.kind == kind and says in fault.what for fault in self.faults.values())

    def summary(self, target: str) -> str:
        """State the counts in one line of JSON."""
        counts = {name: self.outcomes[name] for name in ("answered", "refused", "passed over")}
        faults = {name: self.outcomes[name] for name in ("crash", "hang", "memory", "wrong answer")}
        return json.dumps(
            {
                "target": target,
                "tried": sum(self.outcomes.values()),
                **counts,
                **faults,
                "distinct_faults": len(self.faults),
                "slowest_processor_seconds": round(self.slowest_seconds, 3),
            }
        )

    def kept(self, folder: Path) -> Iterator[tuple[Fault, Path]]:
        """Write the input of each fault into a folder."""
        for fault in self.faults.values():
            name = f"{fault.kind.replace(' ', '-')}-{hashlib.sha256(fault.input).hexdigest()[:12]}"
            path = folder / name
            path.write_bytes(fault.input)
            yield fault, path


def _most_memory() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


@contextmanager
def _limited(seconds: float) -> Iterator[None]:
    signal.signal(signal.SIGVTALRM, _stop)
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)


def _stop(number: int, frame: FrameType | None) -> None:
    raise Hang


def _origin(error: Exception) -> str:
    """Name a crash by its kind and the innermost line of ours that it went through."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if "/warmstead/" in frame.filename] or list(frames)
    return f"{type(error).__name__} {ours[-1].filename}:{ours[-1].lineno}"


def _family(what: str) -> str:
    """Return what kinds of wrong answers are told apart by: the text up to its first colon."""
    return what.partition(":")[0]
