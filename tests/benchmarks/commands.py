"""Whole commands, cold, beside a floor:

    python tests/benchmarks/commands.py [--quick] [--times N]

The floor is a process that imports NumPy, scipy.special, pydantic and click, without which no
command can begin. Floor and commands take turns, so that a machine that is shared slows both;
a figure is the median of the pairwise ratios. Written for reading, not for passing or failing.

Aims: `--help` 0.5, `check` 1, `answer` 2.5 floors on scenario A; `sensitivity` 5; `report` 6, and 8
with three fallbacks, on two processors that nothing else uses.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[2]
A, B, C, D = sorted((ROOT / "scenarios").glob("*.toml"))
FLOOR = [sys.executable, "-c", "import numpy, scipy.special, pydantic, click"]
ECON = [sys.executable, "-c", "from econ.cli import main; main()"]


def wall(command: list[str]) -> float:
    """Wall seconds of a process."""
    begun = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
    return time.perf_counter() - begun


def show(name: str, command: list[str], times: int) -> None:
    """Print the median wall time of a command and how many floors it is."""
    wall(command)  # files are read into memory, and byte code is written
    pairs = [(wall(FLOOR), wall(command)) for _ in range(times)]
    ratios = [taken / floor for floor, taken in pairs]
    print(
        f"{name:<24}{median(taken for _, taken in pairs):7.2f} s"
        f"{median(ratios):7.2f} floors ({min(ratios):.2f} to {max(ratios):.2f})"
    )


def main() -> None:
    """Parse and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="a few commands, once")
    parser.add_argument("--times", type=int, default=5, help="pairs of each command")
    given = parser.parse_args()
    times = 1 if given.quick else given.times
    wall(FLOOR)
    print(f"floor {median(wall(FLOOR) for _ in range(times)):.2f} s")
    show("--help", [*ECON, "--help"], times)
    show("check A", [*ECON, "check", str(A)], times)
    show("answer A", [*ECON, "answer", str(A)], times)
    if given.quick:
        return
    for name, path in (("B", B), ("C", C), ("D", D)):
        show(f"answer {name}", [*ECON, "answer", str(path)], times)
    changed = ["--set", "rates.rig=30000"]
    show("whatif A", [*ECON, "whatif", str(A), *changed], times)
    show("answer --order A", [*ECON, "answer", str(A), "--order"], times)
    for name, path in (("A", A), ("B", B), ("C", C), ("D", D)):
        show(f"sensitivity {name}", [*ECON, "sensitivity", str(path)], times)
    with tempfile.TemporaryDirectory() as folder:
        for name, path in (("A", A), ("B", B), ("C", C), ("D", D)):
            out = str(Path(folder, name))
            show(f"report {name}", [*ECON, "report", str(path), "--out", out], times)
            page = str(Path(folder, f"{name}.html"))
            show(f"page {name}", [*ECON, "page", str(path), "--out", page], times)


if __name__ == "__main__":
    main()
