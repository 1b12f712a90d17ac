"""The workbook of the supplement against `econ afe --hold`: every price alone, all at once, pairs.

    PYTHONPATH=.:tests:tests/reports python tests/benchmarks/supplement.py [--jobs 20] [--pairs 50]

Five demos and random jobs with every feature. All files of a job are recalculated in one call of
LibreOffice, from values that are wrong on purpose; the formulas library takes the first edit of
each job. Slices, expected call, ask and the cost of every limit must agree to a hundredth. It takes
about a second a file: an hour for all. Not part of the suite, whose few jobs are in
tests/reports/test_supplement_recompute.py.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from supplement_edits import Issue, edits, gaps
from supplement_jobs import answered, everything
from supplement_recompute import by_formulas, by_libreoffice

from econ.decision import Answer, answer
from econ.scenario import load

DEMOS = sorted(Path(__file__).parents[2].glob("scenarios/?_*.toml"))


def demo(file: Path) -> Answer:
    return answer(load(file, ("draws.n=32",)))


def tried(
    issue: Issue, name: str, *, pairs: int, most: int | None, library: bool
) -> tuple[int, int]:
    """How many edits of a job were tried, and how many cells disagreed."""
    chosen = list(edits(issue, random.Random(name), pairs=pairs))
    if most is not None and len(chosen) > most:
        chosen = random.Random(name).sample(chosen, most)
    with tempfile.TemporaryDirectory() as folder:
        files = {f"book_{n}": issue.typed(edit.cells(issue)) for n, (_, edit) in enumerate(chosen)}
        found = by_libreoffice(files, Path(folder))
    bad = 0
    for number, (what, edit) in enumerate(chosen):
        for gap in gaps(issue, edit, found[f"book_{number}"]):
            bad += 1
            print(f"{name}, {what}: {gap}")
    if library:
        what, edit = chosen[-1]
        for gap in gaps(issue, edit, by_formulas(issue.typed(edit.cells(issue)))):
            bad += 1
            print(f"{name}, {what}, by the library: {gap}")
    return len(chosen), bad


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--jobs", type=int, default=20, help="random jobs")
    parser.add_argument("--pairs", type=int, default=50, help="random pairs of prices of a job")
    parser.add_argument("--most", type=int, help="edits of a job, drawn among all")
    parser.add_argument("--library", action="store_true", help="one edit of a job by formulas")
    asked = parser.parse_args()
    jobs: dict[str, Callable[[], Answer]] = {
        file.stem: lambda file=file: demo(file) for file in DEMOS
    }
    for seed in range(100, 100 + asked.jobs):
        jobs[f"random {seed}"] = lambda seed=seed: answered(everything(seed))
    files = wrong = 0
    for name, make in jobs.items():
        begun = time.time()
        count, bad = tried(
            Issue.of(make()), name, pairs=asked.pairs, most=asked.most, library=asked.library
        )
        files, wrong = files + count, wrong + bad
        print(f"{name}: {count} edits, {bad} gaps, {time.time() - begun:.0f} s", flush=True)
    print(f"{len(jobs)} jobs, {files} edits, {wrong} gaps")
    return wrong > 0


if __name__ == "__main__":
    sys.exit(main())
