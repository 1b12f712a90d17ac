"""How often what `econ odds` prints as a 95 % interval holds the truth of invented records.

Records are drawn coin by coin from two kinds of fish, with two kinds of run at random and stops as
in `regret.py`; their truths lie between 5 and 95 %. Of each set every printed interval of a chance
is taken, and the interval of the Beta of each printed weight, which a scenario takes in its place:

    share, workable, stubborn   share of workable fish, odds on each kind of fish
    leaning                     odds of a kind of run on all fish
    counted, by run             Wilson's interval by kind of run, by number of run (1 to 3)
    other outcomes              of nothing, part, top damaged, string lost, hole lost, on all fish
    still in                    Kaplan-Meier after 24, 48, 72 h, runs of 24 h each
    odds ratios                 of a mark (2), a day elapsed (0.8), a repeat (1); one kind of fish
    factor per day              the same 0.8, kinds of fish apart

The true odds on all fish are those of the runs that the design makes: expected recoveries over
expected runs, worked out run by run.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from regret import FAILURES, STOPPED
from scipy.special import ndtri

from econ.records import parse_records
from econ.records.counts import count
from econ.records.effects import effects
from econ.records.fish_kinds import fish_kinds
from econ.records.outcomes import outcome_tables
from econ.records.pooling import pool
from econ.records.proportions import beta_interval
from econ.records.recovery_time import recovery_times
from econ.records.trade import usual_weight

Array = NDArray[np.float64]
MOST = 6  # runs of a job
KINDS = ("overshot", "spear")
NAMES = ("nothing", "part", "top_damaged", "string_lost", "hole_lost")
LOST = sum(FAILURES[3:])


@dataclass(frozen=True)
class Truth:
    """Share of workable fish, and odds of the two kinds of run on workable and stubborn fish."""

    share: float
    good: tuple[float, float]
    bad: tuple[float, float]


TRUTHS = {
    "share 5 %": Truth(0.05, (0.60, 0.50), (0.20, 0.05)),
    "share 50 %, odds 5 to 95 %": Truth(0.50, (0.95, 0.60), (0.05, 0.20)),
    "share 65 %": Truth(0.65, (0.62, 0.50), (0.05, 0.08)),
    "share 85 %": Truth(0.85, (0.80, 0.50), (0.10, 0.05)),
    "share 95 %": Truth(0.95, (0.60, 0.35), (0.05, 0.10)),
}


@dataclass(frozen=True)
class Check:
    """One printed interval [fraction] with the truth; kind: its row of the table."""

    kind: str
    low: float
    high: float
    truth: float

    @property
    def holds(self) -> bool:
        return self.low - 1e-9 <= self.truth <= self.high + 1e-9


def records_text(rng: np.random.Generator, truth: Truth, jobs: int) -> str:
    """A table of so many jobs, each run of 24 h."""
    rows = ["job,run,kind,outcome,hours"]
    outcomes = rng.choice(5, (jobs, MOST), p=FAILURES)
    kinds = rng.integers(2, size=(jobs, MOST))
    coins, stops = rng.random((jobs, MOST)), rng.random((jobs, MOST))
    workable = rng.random(jobs) < truth.share
    for job in range(jobs):
        chances = truth.good if workable[job] else truth.bad
        for run in range(MOST):
            kind, outcome = kinds[job, run], outcomes[job, run]
            won = coins[job, run] < chances[kind]
            word = "recovered" if won else NAMES[outcome]
            rows.append(f"J{job},{run + 1},{KINDS[kind]},{word},24")
            if won or outcome >= 3 or stops[job, run] < STOPPED:
                break
    return "\n".join(rows)


def by_run(truth: Truth) -> tuple[Array, Array]:
    """Chance that a job makes run j, and that run j of kind i recovers if it is made; shapes
    (runs,) and (runs, kinds)."""
    shares = np.array([truth.share, 1 - truth.share])
    chances = np.array([truth.good, truth.bad])
    made, odds = [], []
    for _ in range(MOST):
        made.append(shares.sum())
        odds.append(shares @ chances / shares.sum())
        shares = shares * (1 - chances.mean(axis=1)) * (1 - LOST) * (1 - STOPPED)
    return np.array(made), np.array(odds)


def checks(truth: Truth, jobs: int, seed: int) -> Iterator[Check]:
    """Every interval of one set of records."""
    records = parse_records(records_text(np.random.default_rng([jobs, seed]), truth, jobs))
    weight = usual_weight()
    counts = count(records)
    pooled, fish = pool(counts, weight=weight), fish_kinds(records, weight=weight)

    def both(kind: str, mean: float, low: float, high: float, worth: float, true: float):  # type: ignore[no-untyped-def]
        yield Check(kind, low, high, true)
        yield Check(kind + ", by weight", *beta_interval(mean=mean, weight=worth), true)

    yield from both("share", *_parts(fish.workable), truth.share)
    for place, kind in enumerate(fish.kinds):
        which = KINDS.index(kind)
        yield from both("workable", *_parts(fish.on_workable[place]), truth.good[which])
        yield from both("stubborn", *_parts(fish.on_stubborn[place]), truth.bad[which])
    made, odds = by_run(truth)
    on_all = made @ odds / made.sum()
    for each in pooled.kinds:
        yield from both("leaning", *_parts(each), on_all[KINDS.index(each.kind)])
    for each in counts.by_kind:
        yield Check("counted", *each.share.wilson, on_all[KINDS.index(each.kind)])
    for each in counts.by_run[:3]:
        yield Check("by run", *each.share.wilson, odds[each.run - 1].mean())
    for table in outcome_tables(records, pooled, fish, weight=weight):
        if not table.fish:
            ends = dict(zip(NAMES, (2, 1, 4, 5, 6), strict=True))
            intervals = table.intervals()
            for name, share in zip(NAMES, FAILURES, strict=True):
                true = (1 - on_all[KINDS.index(table.kind)]) * share
                yield Check("other outcomes", *intervals[ends[name]], true)
    times = recovery_times(records)
    still = np.cumprod(1 - odds.mean(axis=1))
    for hours, low, high in zip(times.hours, times.low, times.high, strict=True):
        run = round(hours / 24)
        if run <= 3 and np.isfinite(low):
            yield Check("still in", low, high, still[run - 1])


RATIOS = {"mark washed": 2.0, "each day elapsed": 0.8, "repeat of a kind of run": 1.0}


def ratio_checks(jobs: int, seed: int) -> Iterator[Check]:
    """Intervals of odds ratios, of records from one kind of fish whose odds move by RATIOS."""
    rng = np.random.default_rng([3, jobs, seed])
    rows = ["job,run,kind,outcome,hours,marks"]
    for job in range(jobs):
        marked, days = rng.random() < 0.5, 0.0
        for run in range(1, MOST + 1):
            odds = 0.6 * (2.0 if marked else 1.0) * 0.8**days
            won = rng.random() < odds / (1 + odds)
            kind, hours = KINDS[int(rng.integers(2))], int(rng.integers(12, 49))
            word = "recovered" if won else "nothing"
            rows.append(f"J{job},{run},{kind},{word},{hours},{'washed' if marked else ''}")
            days += hours / 24
            if won or rng.random() < STOPPED:
                break
    records = parse_records("\n".join(rows))
    for each in effects(records).found:
        yield Check("odds ratio, " + each.name, each.low, each.high, RATIOS[each.name])
    day = fish_kinds(records, weight=usual_weight()).per_day
    if day is not None:
        yield Check("factor per day", day.low, day.high, RATIOS["each day elapsed"])


def _parts(each) -> tuple[float, float, float, float]:  # type: ignore[no-untyped-def]
    return each.mean, each.low, each.high, each.weight


def covered(truth: Truth | None, jobs: int, sets: int) -> dict[str, tuple[int, int]]:
    """By kind of interval: how many hold the truth, of how many; None: of odds ratios."""
    found: dict[str, list[bool]] = {}
    for seed in range(sets):
        each = ratio_checks(jobs, seed) if truth is None else checks(truth, jobs, seed)
        for check in each:
            found.setdefault(check.kind, []).append(check.holds)
    return {kind: (sum(held), len(held)) for kind, held in found.items()}


def least(sets: int, nominal: float = 0.95) -> float:
    """Share of sets that a sound interval holds the truth in, but for one time in a thousand."""
    return nominal + float(ndtri(0.001)) * (nominal * (1 - nominal) / sets) ** 0.5
