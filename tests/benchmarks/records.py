"""Regret of the odds that past jobs hand out, at length: python tests/benchmarks/records.py [SETS]

Prints, for 8, 25, 80 and 300 jobs and each truth of tests/records/regret.py, the mean regret in
percent of cost of the odds handed out, of those blended with one kind of fish, of the plain rates
in one table, and of who knows the list of truths; then means over truths, and by how much each
differs from the odds handed out on the same records, with the standard error of that. 40 sets of
records each took four minutes on one processor.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "records"))
from regret import ONE_KIND, RULES, TRUTHS, regrets

SIZES = (8, 25, 80, 300)


def main() -> None:
    sets = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    for jobs in SIZES:
        print(f"{jobs} jobs, {sets} sets".ljust(26) + "".join(f"{rule:>14}" for rule in RULES))
        found = {name: regrets(name, jobs, sets) for name in TRUTHS}
        for name, rows in found.items():
            print(f"  {name:24}" + "".join(f"{each:14.2f}" for each in rows.mean(axis=0)))
        others = [name for name in TRUTHS if name not in ONE_KIND]
        for words, names in (("all", list(TRUTHS)), ("one kind", ONE_KIND), ("others", others)):
            rows = np.concatenate([found[name] for name in names])
            apart = rows - rows[:, :1]
            error = apart.std(axis=0) / len(apart) ** 0.5
            print(f"  {words:24}" + "".join(f"{each:14.2f}" for each in rows.mean(axis=0)))
            more = zip(apart.mean(axis=0), error, strict=True)
            print(" " * 26 + "".join(f"{m:+8.3f}+-{e:.3f}" for m, e in more), flush=True)


if __name__ == "__main__":
    main()
