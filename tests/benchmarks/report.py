"""Wall and processor time of `econ report`, the whole command:

    python tests/benchmarks/report.py [--quick] [FILE ...]

Without FILE the demonstration scenarios. Written for reading, not for passing or failing: the
machine may be shared. The aim is 6 s of wall time on two processors with nothing else running;
where wall is well above half of the processor time, the second one was not to be had.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
DEMOS = sorted((ROOT / "scenarios").glob("*.toml"))
COMMAND = [sys.executable, "-c", "from econ.cli import main; main()", "report"]


def spent() -> float:
    """Processor time of all processes that were waited for."""
    times = os.times()
    return times.children_user + times.children_system


def show(path: Path, *more: str) -> None:
    """Print the times of one scenario; more: options of the command."""
    with tempfile.TemporaryDirectory() as folder:
        begun, used = time.perf_counter(), spent()
        subprocess.run([*COMMAND, str(path), "--out", folder, *more], check=True)
        wall, used = time.perf_counter() - begun, spent() - used
    print(f"{path.name}: wall {wall:.1f} s, processor time {used:.1f} s")


def main() -> None:
    """Parse and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="one scenario, few draws")
    parser.add_argument("file", nargs="*", type=Path)
    given = parser.parse_args()
    for path in given.file or (DEMOS[:1] if given.quick else DEMOS):
        show(path, *(["--set", "draws.n=16"] if given.quick else []))


if __name__ == "__main__":
    main()
