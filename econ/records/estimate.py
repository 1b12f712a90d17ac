"""All that past jobs say, together: from `Records` to odds.

records = read_records("jobs.csv")
found = odds(records)
found.counts, found.times, found.fish, found.pooled, found.tables, ...
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from econ.records.columns import MECHANISMS, TOPS
from econ.records.counts import Counts, count
from econ.records.effects import Effects, effects
from econ.records.fish_kinds import FishKinds, fish_kinds
from econ.records.honesty import Calibration, OneOut, calibration, handed_out, leave_one_out
from econ.records.outcomes import OddsTable, frame_of, outcome_tables
from econ.records.pooling import Pooling, pool
from econ.records.records import ENDINGS, Ints, Records
from econ.records.recovery_time import RecoveryTimes, recovery_times
from econ.records.trade import ORIGIN, usual_weight
from econ.scenario.evidence import PastJobs, Seen

if TYPE_CHECKING:
    import pandas as pd

FEW_RUNS = 10  # of a kind of run; with fewer its odds are mostly those of other kinds
FEW_JOBS = 20
LEAST_WEIGHT, MOST_WEIGHT = 0.5, 1000.0  # runs that the odds of the trade may count


@dataclass(frozen=True, eq=False, repr=False)
class RecordOdds:
    """Odds from past jobs, and how far they can be trusted."""

    records: Records
    counts: Counts
    times: RecoveryTimes
    fish: FishKinds
    pooled: Pooling
    effects: Effects
    tables: tuple[OddsTable, ...]
    calibration: Calibration | None
    one_out: OneOut
    by_run: tuple[float, ...]  # mean chance of run 1, 2, ... by the odds handed out [fraction]
    prior_weight: float  # runs that the odds of the trade count
    seen: Seen  # what sort of jobs the records hold
    warnings: tuple[str, ...]

    def __repr__(self) -> str:
        fish = "told apart" if self.fish.told_apart else "not told apart"
        kinds = len(self.pooled.kinds)
        return f"RecordOdds({self.records!r}: {kinds} kinds of run, two kinds of fish {fish})"

    @property
    def endings(self) -> dict[str, int]:
        """Number of jobs by how they ended."""
        many = np.bincount(self.records.ending, minlength=len(ENDINGS))
        return dict(zip(ENDINGS, map(int, many), strict=True))

    def table(self, kind: str, fish: str = "") -> OddsTable | None:
        """The odds of a kind of run, on a kind of fish or on all; None if there are none."""
        both = (each for each in self.tables if (each.kind, each.fish) == (kind, fish))
        return next(both, None)

    def to_frame(self) -> pd.DataFrame:
        """One row a kind of run, kind of fish and outcome."""
        return frame_of(self.tables)


def odds(records: Records, *, prior_weight: float | None = None, seed: int = 0) -> RecordOdds:
    """Everything from the records, with the planning odds of the trade where they are thin.

    prior_weight: runs that the odds of the trade count, from 0.5 to 1,000, 5 if left out; seed: of
    the simulations that tell kinds of fish apart. Chances are fractions with 95 % intervals; the
    modules name the source of each. ValueError for another weight.

    >>> from econ.records import read_records
    >>> found = odds(read_records("scenarios/records/invented_jobs.csv"))
    >>> [f"{each.kind} {each.mean:.2f}" for each in found.pooled.kinds][:2]
    ['overshot 0.27', 'wash_then_catch 0.21']
    >>> [f"{chance:.2f}" for chance in found.by_run][:3]
    ['0.38', '0.24', '0.16']
    >>> found.fish.told_apart
    True
    """
    weight = usual_weight() if prior_weight is None else float(prior_weight)
    if not LEAST_WEIGHT <= weight <= MOST_WEIGHT:
        raise ValueError(f"prior_weight {weight}: give {LEAST_WEIGHT:g} to {MOST_WEIGHT:g} runs")
    counts = count(records)
    pooled = pool(counts, weight=weight)
    fish = fish_kinds(records, weight=weight, seed=seed)
    tables = outcome_tables(records, pooled, fish, weight=weight)
    chances = handed_out(records, fish)
    return RecordOdds(
        records=records,
        counts=counts,
        times=recovery_times(records),
        fish=fish,
        pooled=pooled,
        effects=effects(records),
        tables=tables,
        calibration=calibration(records),
        one_out=leave_one_out(records, fish, weight=weight),
        by_run=tuple(float(chances[records.run == each.run].mean()) for each in counts.by_run),
        prior_weight=weight,
        seen=seen(records),
        warnings=tuple(_warnings(records, counts, fish)),
    )


def past_jobs(record_odds: RecordOdds) -> PastJobs:
    """The records as a scenario knows them that takes odds from them."""
    records = record_odds.records
    kinds = tuple((each.kind, each.share.cases) for each in record_odds.counts.by_kind)
    return PastJobs(
        file=records.file,
        source=records.file,
        jobs=len(records.names),
        runs=len(records.job),
        kinds=kinds,
        seen=record_odds.seen,
        rows_lost=records.rows_lost,
        jobs_lost=records.jobs_lost,
        prior_weight=record_odds.prior_weight,
        prior_origin=ORIGIN,
    )


def seen(records: Records) -> Seen:
    """Ranges and words of the records, against which a case is held."""

    def ends(values: np.ndarray) -> list[float] | None:
        known = values[np.isfinite(values)]
        return [float(known.min()), float(known.max())] if len(known) else None

    def words(places: Ints, known: tuple[str, ...]) -> dict[str, int]:
        return {
            known[place]: len(np.unique(records.job[places == place]))
            for place in np.unique(places[places >= 0])
        }

    found = {
        "hole_size": ends(records.hole_size),
        "angle": ends(records.angle),
        "depth": ends(records.depth),
        "mechanism": words(records.mechanism, MECHANISMS),
        "top_condition": words(records.top, TOPS),
        "most_runs": int(records.run.max()),
    }
    return Seen.model_validate(found)


def lost_in_words(records: Records) -> str:
    """How many rows and jobs were not taken."""
    jobs = len(records.names) + records.jobs_lost
    return f"{records.rows_lost} of {records.trials} rows and {records.jobs_lost} of {jobs} jobs"


def _warnings(records: Records, counts: Counts, fish: FishKinds) -> list[str]:
    jobs = len(records.names)
    found = []
    if jobs < FEW_JOBS:
        found.append(f"few jobs ({jobs}): the odds still lean on those of the trade")
    rare = [each.kind for each in counts.by_kind if each.share.cases < FEW_RUNS]
    if rare:
        found.append(
            f"fewer than {FEW_RUNS} runs of {', '.join(rare)}: their odds lean on those of the "
            "other kinds"
        )
    won = counts.all_runs.successes
    if won == 0:
        found.append("no run recovered a fish: nothing is known of what works")
    if won == len(records.names):
        found.append("every job recovered its fish: were jobs without success left out?")
    start = records.run[records.first]
    steps = np.diff(records.run)[np.diff(records.job) == 0]
    gaps = int((start != 1).sum()) + int((steps != 1).sum())
    if gaps:
        found.append(f"{gaps} run numbers are missing in the jobs; what became of them is unknown")
    held = {each.column for each in records.rejected if not each.whole_row}
    if held:
        found.append(f"cells taken as empty in {', '.join(sorted(held))}: see what was rejected")
    if records.rows_lost:
        more = "; these odds are not to be used" if records.too_much_lost else ""
        found.append(
            f"{lost_in_words(records)} were not taken; if they are not like the others, the odds "
            f"are not those of your jobs{more}"
        )
    if fish.told_apart and fish.per_day is None:
        found.append("no times: odds that fall with time would look like stubborn fish")
    return found
