"""Fuzz one target with coverage for guide: tell what was tried, and keep an input for each distinct fault.

    python tests/abuse/fuzz.py values --seconds 600 --keep /tmp/found
    python tests/abuse/fuzz.py values --replay /tmp/found/crash-0123456789ab

The last line is JSON with the counts. Ends with 1 where there was a fault, with another number where the process itself
was brought down (then the fuzzer says by what). Faults do not stop the run: each is counted, and its shortest input kept.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path
from random import Random
from typing import Any

import atheris
from fuzzing.quiet import quiet

with quiet(), atheris.instrument_imports(include=["warmstead"]):
    from fuzzing.targets import TARGETS, Target
    from fuzzing.verdict import Tally
from fuzzing.plants import PLANTS

LONGEST_INPUT = 200_000
NATIVE_HANG_SECONDS = 120
"""Wall time after which the fuzzer ends a process that is stuck where Python cannot interrupt it."""
MEMORY_MEBIBYTES = 3000
REJECTED = -1
"""Tells the fuzzer not to build on an input."""


def main() -> None:
    """Read the command line and fuzz."""
    asked = _arguments()
    for name in asked.plant:
        PLANTS[name]()
    target = TARGETS[asked.target]
    tally = Tally()
    if asked.keep:
        asked.keep.mkdir(parents=True, exist_ok=True)
    if asked.replay:
        for path in asked.replay:
            tally.try_out(target.judge, path.read_bytes())
        _end(tally, asked)
    with tempfile.TemporaryDirectory() as scratch:
        folder = asked.corpus or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        for number, seed in enumerate(target.seeds()):
            (folder / f"seed-{number:04}").write_bytes(seed)
        deadline = time.process_time() + asked.seconds

        def one_input(data: bytes) -> int:
            outcome = tally.try_out(target.judge, data)
            if time.process_time() > deadline or (asked.stop_at_fault and tally.faults):
                _end(tally, asked)
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


def _end(tally: Tally, asked: argparse.Namespace) -> None:
    """Say what was found, and leave at once: the fuzzer's own loop never returns."""
    for fault in tally.faults.values():
        print(
            f"\n{fault.kind} ({fault.count} times), {len(fault.input)} bytes: {fault.input[:300]!r}\n{fault.what}"
        )
    if asked.keep:
        for fault, path in tally.kept(asked.keep):
            print(f"kept: {path} ({fault.kind})")
    print(tally.summary(asked.target), flush=True)
    sys.stderr.flush()
    os._exit(1 if tally.faults else 0)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("target", choices=sorted(TARGETS))
    parser.add_argument(
        "--seconds", type=float, default=60.0, help="of processor time to try for (default 60)"
    )
    parser.add_argument("--seed", type=int, default=1, help="of the fuzzer's own draws (default 1)")
    parser.add_argument("--corpus", type=Path, help="folder of inputs to begin with and to add to")
    parser.add_argument("--keep", type=Path, help="folder for inputs that showed a fault")
    parser.add_argument(
        "--plant", action="append", default=[], choices=sorted(PLANTS), help="a fault to be found"
    )
    parser.add_argument("--stop-at-fault", action="store_true", help="end at the first fault")
    parser.add_argument("--replay", type=Path, nargs="+", help="judge these inputs and end")
    return parser.parse_args()


if __name__ == "__main__":
    main()
