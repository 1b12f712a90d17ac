"""Regret of the odds that past jobs hand out, at length: python tests/benchmarks/records.py [SETS]

Prints, for 8, 25, 80 and 300 jobs and each truth of tests/records/regret.py, the mean regret in
percent of cost of the odds handed out, of the rates in one table, and of who knows the list of
truths. 40 sets of records each took three minutes on one processor.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "records"))
from regret import ONE_KIND, mean_regrets

SIZES = (8, 25, 80, 300)


def main() -> None:
    sets = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    for jobs in SIZES:
        found = mean_regrets(jobs, sets)
        print(f"{jobs} jobs, {sets} sets      handed out  one table  bound")
        for name, row in found.items():
            print(f"  {name:24}" + "".join(f"{each:9.2f}" for each in row), flush=True)
        for words, names in (("mean", list(found)), ("mean of one kind", ONE_KIND)):
            mean = np.mean([found[name] for name in names], axis=0)
            print(f"  {words:24}" + "".join(f"{each:9.2f}" for each in mean), flush=True)


if __name__ == "__main__":
    main()
