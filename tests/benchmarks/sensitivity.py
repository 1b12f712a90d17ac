"""Processor time of `econ sensitivity` over one full answer, within one run:

    python tests/benchmarks/sensitivity.py [--quick] [FILE ...]

Without FILE the demonstration scenarios. Written for reading, not for passing or failing: the
machine may be shared. The aim is 15 s of processor time for the whole sensitivity of a
demonstration scenario, the start of Python included.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from econ.decision.changes.break_even import break_evens
from econ.decision.changes.drivers import DRAWS, Bench
from econ.decision.changes.importance import importances
from econ.decision.changes.knowing import worth_of_knowing
from econ.decision.changes.sensitivity import sensitivity
from econ.decision.changes.swings import swings_of_amounts, swings_of_drivers, uncertain_amounts

import econ
from econ.decision.whatif import whatif
from econ.engine.inputs import Inputs

ROOT = Path(__file__).parents[2]
DEMOS = sorted((ROOT / "scenarios").glob("*.toml"))
START = "import time, econ, econ.cli; from econ.decision import answer; print(time.process_time())"


def seconds(work: Callable[[], object]) -> float:
    """Processor time of one call."""
    begun = time.process_time()
    work()
    return time.process_time() - begun


def show(path: Path, *, n: int) -> None:
    """Print the times of one scenario; n: draws of each scramble."""
    made = econ.load(path)
    changed = econ.load(path, ("recovery.charge=50000",))
    econ.answer(made)  # imports, and tables that are made once
    answer = seconds(lambda: econ.answer(made))
    whole = seconds(lambda: sensitivity(made, n=n))
    sides = seconds(lambda: whatif(made, changed))
    bench = Bench(Inputs(made.in_field_units()), n=n)
    base = bench.limits()
    amounts = uncertain_amounts(bench, made)
    parts = {
        "one evaluation": lambda: bench.limits(),
        f"swings of {len(amounts)} amounts": lambda: swings_of_amounts(bench, base, amounts),
        "swings of the main drivers": lambda: swings_of_drivers(bench, base),
        "worth of knowing each amount": lambda: worth_of_knowing(bench, base, amounts),
        "Sobol' indices": lambda: importances(bench, amounts, best=base.verdict.best),
        "break-evens": lambda: break_evens(bench),
    }
    print(f"{path.name}: one answer {answer:.2f} s")
    print(f"  whole sensitivity, {n} draws x 16  {whole:7.2f} s  {whole / answer:6.1f} answers")
    print(f"  what-if                          {sides:7.2f} s  {sides / answer:6.1f}")
    for name, work in parts.items():
        took = seconds(work)
        print(f"    {name:<31}{took:7.2f} s  {took / answer:6.2f}")


def main() -> None:
    """Parse and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="one scenario, few draws")
    parser.add_argument("file", nargs="*", type=Path)
    given = parser.parse_args()
    files = given.file or (DEMOS[:1] if given.quick else DEMOS)
    start = subprocess.run(
        [sys.executable, "-c", START], capture_output=True, text=True, check=True
    )
    print(f"start of Python and imports {float(start.stdout):.2f} s")
    for path in files:
        show(path, n=16 if given.quick else DRAWS)


if __name__ == "__main__":
    main()
