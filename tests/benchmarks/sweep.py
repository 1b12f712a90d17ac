"""Benchmark of sweeps: python tests/benchmarks/sweep.py [--full] [--jobs 2]

1. Processor time of a case, step by step, and over that of a full answer in the same run.
2. Cases a second through processes as `econ sweep` starts them, and the time of 10,000 cases:
   measured with --full, else taken from a smaller number.
Every case has numbers of its own in three columns. Written for reading, not for passing or
failing: the machine may be shared, so that ratios and processor time say more than seconds.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import econ
from econ.decision.quick import of_case
from econ.decision.sweep import RESULTS, sweep_row, sweep_rows, together
from econ.engine.inputs import Inputs
from econ.scenario.load import Variants, parse

SCENARIOS = Path(__file__).parents[2] / "scenarios"
NAME = "a_land_twist_off.toml"
CASES = 10_000
DRAWS = 64
SWEEP = "from econ.cli import main; main(prog_name='econ')"
COLUMNS = ("rates.rig", "run.1.charge", "fallback.1.kickoff_above_fish")


def case(number: int) -> tuple[str, ...]:
    """Values of the columns in case `number`, no two alike."""
    return str(20_000 + number), str(3_000 + number % 997), str(200 + number % 101)


def overrides(number: int) -> tuple[str, ...]:
    """The same as key=value."""
    return tuple(f"{key}={value}" for key, value in zip(COLUMNS, case(number), strict=True))


def milliseconds(work: Callable[[int], Any], times: int) -> float:
    """Median processor time of a call [ms], which is told its number."""
    work(0)
    spent = []
    for number in range(1, times + 1):
        start = time.process_time()
        work(number)
        spent.append(time.process_time() - start)
    return statistics.median(spent) * 1e3


def steps() -> None:
    """Where the processor time of a case goes, and its ratio to a full answer."""
    text = (SCENARIOS / NAME).read_text(encoding="utf-8")
    variants = Variants(text)
    scenario = variants.scenario(overrides(1))
    inputs = Inputs(scenario)
    columns = inputs.first(DRAWS)
    scrambles = inputs.sampler.scrambles
    drawn = inputs.case(columns, DRAWS * scrambles)
    rows = together(DRAWS)

    def chunk(number: int) -> None:
        every = range(number * rows, (number + 1) * rows)
        sweep_rows(text, [overrides(each) for each in every], DRAWS)

    alone = milliseconds(lambda number: sweep_row(text, overrides(number), DRAWS), 60)
    whole = milliseconds(chunk, 20) / rows
    full = milliseconds(lambda _: econ.answer(scenario), 3)
    parts: dict[str, Callable[[int], Any]] = {
        "scenario with its overrides, checked": lambda number: variants.scenario(overrides(number)),
        "columns and distributions": lambda _: Inputs(scenario),
        "draws, those of equal columns kept": lambda _: inputs.first(DRAWS),
        "draws put into the scenario": lambda _: inputs.case(columns, DRAWS * scrambles),
        "walk and limits, by itself": lambda _: of_case(drawn, minimum=0, scrambles=scrambles),
        "for comparison, a file read anew": lambda number: parse(text, overrides(number)),
    }
    print(f"{NAME}, {DRAWS} draws x {scrambles} scrambles, processor time [ms]")
    for name, work in parts.items():
        print(f"  {name:<40}{milliseconds(work, 60):>8.2f}")
    print(f"  {'one case by itself':<40}{alone:>8.2f}")
    print(f"  {f'one case of a chunk of {rows}':<40}{whole:>8.2f}")
    print(f"  {'one full answer':<40}{full:>8.0f}   {full / whole:.0f} cases")


def run(cases: int, jobs: int) -> tuple[float, float]:
    """Seconds that `econ sweep` takes for so many cases, and its processor time with that of
    its processes, the start included."""
    with tempfile.TemporaryDirectory() as folder:
        grid, out = Path(folder) / "grid.csv", Path(folder) / "out.csv"
        rows = [",".join(case(number)) for number in range(cases)]
        grid.write_text("\n".join([",".join(COLUMNS), *rows, ""]), encoding="utf-8")
        command = [sys.executable, "-c", SWEEP, "sweep", SCENARIOS / NAME, grid, "--out", out]
        before, start = os.times(), time.monotonic()
        subprocess.run([*map(str, command), "--jobs", str(jobs)], check=True)
        seconds, after = time.monotonic() - start, os.times()
        lines = out.read_text(encoding="utf-8").splitlines()
    error = 1 + len(COLUMNS) + RESULTS.index("error")
    assert len(lines) == cases + 1
    assert not any(line.split(",")[error] for line in lines[1:])
    used = after.children_user + after.children_system
    return seconds, used - before.children_user - before.children_system


def throughput(cases: int, jobs: int) -> None:
    """Cases a second, and what 10,000 of them take."""
    few = max(1, cases // 10)
    start, _ = run(few, jobs)
    seconds, used = run(cases, jobs)
    steady = (cases - few) / (seconds - start)  # the start of the processes is in both
    print(f"{cases} cases in {jobs} processes: {seconds:.1f} s, processor time {used:.1f} s")
    print(f"  {steady:.0f} cases a second, {used / cases * 1e3:.1f} ms of a processor each")
    print(f"  busy for {used / seconds / jobs:.0%} of the time: the rest was not to be had")
    if cases < CASES:
        whole = seconds + (CASES - cases) / steady
        print(f"  10,000 cases would take {whole:.0f} s; with both processors free, about ", end="")
    else:
        print("  with both processors free, about ", end="")
    print(f"{used / cases * CASES / jobs:.0f} s")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--full", action="store_true", help="all 10,000 cases")
    parser.add_argument("--jobs", type=int, default=2)
    given = parser.parse_args()
    steps()
    throughput(CASES if given.full else 500, given.jobs)
