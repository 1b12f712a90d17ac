"""How often printed intervals hold the truth: python tests/benchmarks/coverage.py [SETS]

Prints, for 8, 25 and 80 jobs and each truth of tests/records/interval_coverage.py, the percent of
printed 95 % intervals that hold the truth, and of the Betas of the weights that a scenario takes.
What lies below what luck allows (one in a thousand) has a star. 200 sets each took four minutes on
one processor. Whether two kinds of fish are told apart, by simulations, is left out: no interval
hangs on it.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "records"))
from interval_coverage import TRUTHS, covered, least

import econ.records.fish_kinds

SIZES = (8, 25, 80)


def main() -> None:
    sets = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    econ.records.fish_kinds.LEAST_JOBS = 10**9
    for jobs in SIZES:
        columns = {name: covered(truth, jobs, sets) for name, truth in TRUTHS.items()}
        print(
            f"{jobs} jobs, {sets} sets; star: below {100 * least(sets):.1f} %; "
            + ", ".join(columns)
        )
        for kind in dict.fromkeys(kind for each in columns.values() for kind in each):
            cells = []
            for each in columns.values():
                held, of = each[kind]
                cells.append(f"{100 * held / of:8.1f}" + (" " if held / of >= least(sets) else "*"))
            print(f"  {kind:24}" + "".join(cells), flush=True)
        for kind, (held, of) in covered(None, jobs, sets).items():
            star = " " if held / of >= least(of) else "*"
            print(f"  {kind:36}{100 * held / of:8.1f}{star} of {of}", flush=True)


if __name__ == "__main__":
    main()
