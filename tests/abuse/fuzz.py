"""Fuzz with coverage for guide: tell what was tried, and keep an input for each distinct fault.

    python tests/abuse/fuzz.py                                    # all targets, a minute each
    python tests/abuse/fuzz.py values --seconds 600 --keep /tmp/found
    python tests/abuse/fuzz.py values --replay /tmp/found/crash-0123456789ab
    python tests/abuse/fuzz.py --prove                            # plants faults, one after another: each must be found

For each target a line of JSON with the counts. Ends with 1 where there was a fault (with `--prove`: where a planted one was
missed). Faults do not stop a run: each is counted, and its shortest input kept.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from random import Random
from typing import Any

import atheris
from fuzzing.quiet import quiet

with quiet(), atheris.instrument_imports(include=["warmstead"]):
    from fuzzing.targets import TARGETS, Target
    from fuzzing.verdict import Tally
from fuzzing.plants import PLANTS, Plant

LONGEST_INPUT = 200_000
NATIVE_HANG_SECONDS = 120
"""Wall time after which the fuzzer ends a process that is stuck where Python cannot interrupt it."""
MEMORY_MEBIBYTES = 3000
FOUND = 77
"""How a process ends that found what was planted."""
REJECTED = -1
"""Tells the fuzzer not to build on an input."""


def main() -> int:
    """Read the command line and fuzz; modules are instrumented once, and each target gets a process of its own."""
    asked = _arguments()
    if asked.keep:
        asked.keep.mkdir(parents=True, exist_ok=True)
    if asked.prove:
        return _prove(asked)
    bad = [name for name in asked.targets if _in_child(partial(_one_target, name, asked)) != 0]
    return 1 if bad else 0


def _prove(asked: argparse.Namespace) -> int:
    """Plant each fault of the targets alone and fuzz until it is found."""
    missed = []
    for name, plant in PLANTS.items():
        if plant.target not in asked.targets:
            continue

        def planted(plant: Plant = plant) -> None:
            plant.planted()
            _one_target(plant.target, asked, sought=plant)

        found = _in_child(planted) == FOUND
        print(f"planted {name} in {plant.target}: {'found' if found else 'MISSED'}", flush=True)
        if not found:
            missed.append(name)
    return 1 if missed else 0


def _in_child(work: Callable[[], None]) -> int:
    """Do work in a process of its own and return how it ended; a signal is told apart by a negative number."""
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        work()
        os._exit(70)  # work ends its process itself
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def _one_target(name: str, asked: argparse.Namespace, sought: Plant | None = None) -> None:
    """Fuzz one target until its time is over, or until a planted fault is found; ends the process."""
    target = TARGETS[name]
    tally = Tally()
    for path in asked.replay or ():
        tally.try_out(target.judge, path.read_bytes())
    if asked.replay:
        _end(tally, name, asked)
    with tempfile.TemporaryDirectory() as scratch:
        folder = asked.corpus or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        for number, seed in enumerate(target.seeds()):
            (folder / f"seed-{number:04}").write_bytes(seed)
        deadline = time.process_time() + asked.seconds

        def one_input(data: bytes) -> int:
            outcome = tally.try_out(target.judge, data)
            if sought and tally.has(sought.kind, sought.says):
                os._exit(FOUND)
            if time.process_time() > deadline:
                _end(tally, name, asked)
            return 0 if outcome in target.worth_changing else REJECTED

        options = [
            sys.argv[0],
            f"-seed={asked.seed}",
            f"-max_len={LONGEST_INPUT}",
            "-len_control=0",
            "-mutate_depth=1",  # more changes on top of each other are refused by the first of them
            f"-timeout={NATIVE_HANG_SECONDS}",
            f"-rss_limit_mb={MEMORY_MEBIBYTES}",
            f"-artifact_prefix={asked.keep or folder}/",
            "-verbosity=0",
            str(folder),
        ]
        with quiet():
            atheris.Setup(options, one_input, **_mutator(target))
        atheris.Fuzz()


def _mutator(target: Target) -> dict[str, Any]:
    changed = target.changed
    if changed is None:
        return {}

    def mutator(data: bytes, longest: int, seed: int) -> bytes:
        random = Random(seed)
        made = changed(data, random, atheris.Mutate) if random.random() < 0.95 else None
        return made if made is not None and len(made) <= longest else atheris.Mutate(data, longest)

    return {"custom_mutator": mutator}


def _end(tally: Tally, target: str, asked: argparse.Namespace) -> None:
    """Say what was found, and leave at once: the fuzzer's own loop never returns."""
    for fault in tally.faults.values():
        shown = fault.input[:300]
        print(f"\n{fault.kind} ({fault.count} times), {len(fault.input)} bytes: {shown!r}\n{fault.what}")
    if asked.keep:
        for fault, path in tally.kept(asked.keep):
            print(f"kept: {path} ({fault.kind})")
    print(tally.summary(target), flush=True)
    os._exit(1 if tally.faults else 0)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("targets", nargs="*", metavar="TARGET", help=f"of {', '.join(TARGETS)} (default all)")
    parser.add_argument("--seconds", type=float, default=60.0, help="of processor time for each (default 60)")
    parser.add_argument("--seed", type=int, default=1, help="of the fuzzer's own draws (default 1)")
    parser.add_argument("--corpus", type=Path, help="folder of inputs to begin with and to add to")
    parser.add_argument("--keep", type=Path, help="folder for inputs that showed a fault")
    parser.add_argument("--prove", action="store_true", help="plant faults instead; each must be found")
    parser.add_argument("--replay", type=Path, nargs="+", help="judge these inputs and end")
    asked = parser.parse_args()
    unknown = set(asked.targets) - set(TARGETS)
    if unknown:
        parser.error(f"no such target: {', '.join(sorted(unknown))}")
    asked.targets = asked.targets or list(TARGETS)
    return asked


if __name__ == "__main__":
    sys.exit(main())
