"""Whole commands, cold, beside a floor:

    python tests/benchmarks/commands.py [--quick] [--times N]

The floor is a process that imports NumPy, scipy.special, pydantic and click, without which no
command can begin. Floor and commands take turns, so that a machine that is shared slows both;
a figure is the median of the pairwise ratios, of processor time, that of all processes of the
command together, and of time on the clock. Written for reading, not for passing or failing.

Aims: `--help` 0.5, `check` 1, `answer` 2.5 floors on scenario A; `plan` 4; `sensitivity` 5;
`report` 6, and 8 with three fallbacks, on two processors that nothing else uses.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[2]
FILES = sorted((ROOT / "scenarios").glob("*.toml"))
SCENARIOS = {path.name[0].upper(): str(path) for path in FILES}
A = SCENARIOS["A"]
FLOOR = [sys.executable, "-c", "import numpy, scipy.special, pydantic, click"]
ECON = [sys.executable, "-c", "from econ.cli import main; main()"]


@dataclass(frozen=True)
class Taken:
    """What a process took [s]: of processors, and on the clock."""

    processor: float
    clock: float


def taken(command: list[str]) -> Taken:
    """What a command takes, with the processes that it starts."""
    before, begun = os.times(), time.perf_counter()
    subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
    clock, after = time.perf_counter() - begun, os.times()
    used = after.children_user + after.children_system
    return Taken(used - before.children_user - before.children_system, clock)


def show(name: str, command: list[str], times: int) -> None:
    """Print what a command takes and how many floors it is."""
    taken(command)  # files are read into memory, and byte code is written
    pairs = [(taken(FLOOR), taken(command)) for _ in range(times)]
    print(f"{name:<18}", end="")
    for kind in ("processor", "clock"):
        spent = [(getattr(floor, kind), getattr(whole, kind)) for floor, whole in pairs]
        ratios = [whole / floor for floor, whole in spent]
        print(
            f"{kind:>11}{median(whole for _, whole in spent):6.2f} s"
            f"{median(ratios):6.2f} floors ({min(ratios):.2f} to {max(ratios):.2f})",
            end="",
        )
    print(flush=True)


def main() -> None:
    """Parse and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="a few commands, once")
    parser.add_argument("--times", type=int, default=5, help="pairs of each command")
    given = parser.parse_args()
    times = 1 if given.quick else given.times
    floors = [taken(FLOOR) for _ in range(times + 1)][1:]
    processor = median(floor.processor for floor in floors)
    print(f"floor: processor {processor:.2f} s, clock {median(f.clock for f in floors):.2f} s")
    show("--help", [*ECON, "--help"], times)
    show("check A", [*ECON, "check", A], times)
    for name, path in SCENARIOS.items():
        show(f"answer {name}", [*ECON, "answer", path], times)
        if given.quick:
            return
    changed = ["--set", "rates.rig=30000"]
    show("whatif A", [*ECON, "whatif", A, *changed], times)
    show("answer --order A", [*ECON, "answer", A, "--order"], times)
    show("methods A", [*ECON, "methods", A], times)
    for name, path in SCENARIOS.items():
        show(f"plan {name}", [*ECON, "plan", path], times)
    for name, path in SCENARIOS.items():
        show(f"sensitivity {name}", [*ECON, "sensitivity", path], times)
    with tempfile.TemporaryDirectory() as folder:
        for name, path in SCENARIOS.items():
            out = str(Path(folder, name))
            show(f"report {name}", [*ECON, "report", path, "--out", out], times)
            page = str(Path(folder, f"{name}.html"))
            show(f"page {name}", [*ECON, "page", path, "--out", page], times)


if __name__ == "__main__":
    main()
