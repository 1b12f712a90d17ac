"""What past jobs have to say on the odds of a scenario, and what was done with it.

Evidence stands beside the value it is about, not in the file: `odds_from` is resolved when a
scenario is read, and each value that the records were asked for then knows whether they gave
it, were blended with a judgement, or were not used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field

from econ.scenario.amounts import Finite
from econ.scenario.base import Section, key
from econ.scenario.hole import Mechanism, TopCondition

Whole = Annotated[int, Field(ge=0)]
Ends = Annotated[list[Finite], Field(min_length=2, max_length=2)]


@dataclass(frozen=True)
class Evidence:
    """What became of one value: `of` is its key in its section."""

    of: str  # such as odds, odds.workable, workable, odds_ratio_per_day
    how: Literal["records", "blended", "kept"]
    file: str  # that `odds_from` names
    source: str  # of the records
    cases: int = 0  # runs, or jobs for what holds for a fish
    jobs: int = 0
    low: float | None = None  # 95 % interval of the records
    high: float | None = None
    judged_weight: float | None = None
    records_weight: float | None = None
    why: str = ""  # for what is kept

    def words(self) -> str:
        """In one sentence, without a full stop."""
        fish = self.of.partition("odds.")[2]
        start = f"on a {fish} fish " if fish else ""
        if self.how == "kept":
            return f"{start}kept as stated, past jobs not used: {self.why}"
        count = (
            f"{self.jobs} jobs"
            if self.of != "odds" and not fish
            else (f"{self.cases} runs of {self.jobs} jobs")
        )
        rest = f"{count}, 95 % interval {self.low:.2f} to {self.high:.2f}"
        if self.how == "records":
            worth = "" if self.records_weight is None else f", worth {self.records_weight:.3g}"
            return f"{start}from past jobs only ({self.source}: {rest}{worth})"
        return (
            f"{start}judgement worth {self.judged_weight:.3g} blended with past jobs worth "
            f"{self.records_weight:.3g} ({self.source}: {rest})"
        )


def in_words(evidence: Sequence[Evidence]) -> str:
    """What became of the odds of a run, on both kinds of fish in one go where that is alike."""
    if len(evidence) == 2 and evidence[0].how == evidence[1].how != "kept":
        one, other = evidence
        if (one.of, other.of) == ("odds.workable", "odds.stubborn"):
            rest = (
                f"{one.source}: {one.cases} runs of {one.jobs} jobs, 95 % interval {one.low:.2f} "
                f"to {one.high:.2f} on a workable, {other.low:.2f} to {other.high:.2f} on a "
                "stubborn fish"
            )
            worth = f"worth {_both(one.records_weight, other.records_weight)}"
            if one.how == "records":
                return f"from past jobs only, {worth} ({rest})"
            judged = _both(one.judged_weight, other.judged_weight)
            return f"judgement worth {judged} blended with past jobs {worth} ({rest})"
    return "; ".join(each.words() for each in evidence)


def _both(workable: float | None, stubborn: float | None) -> str:
    return " and ".join(dict.fromkeys(f"{each:.3g}" for each in (workable, stubborn)))


class Seen(Section):
    """What sort of jobs the records hold: ranges [in, degrees, ft], and jobs by word."""

    hole_size: Ends | None = key("Least and greatest hole diameter", None)
    angle: Ends | None = key("Least and greatest inclination", None)
    depth: Ends | None = key("Least and greatest depth of a fish top", None)
    mechanism: dict[Mechanism, Whole] = key("Jobs by mechanism", default={})
    top_condition: dict[TopCondition, Whole] = key("Jobs by top condition", default={})
    most_runs: Whole = key("Runs of the longest job", 0)


@dataclass(frozen=True)
class PastJobs:
    """The records behind a scenario: the file of odds, its source, and what jobs they hold."""

    file: str
    source: str
    jobs: int
    runs: int
    kinds: tuple[tuple[str, int], ...]  # kinds of run with their runs
    seen: Seen
    rows_lost: int | None = None  # rows of the records that were not taken; None: not known
    jobs_lost: int | None = None
    prior_weight: float | None = None  # runs of each kind that the odds of the trade count
    prior_origin: str = ""


@dataclass(frozen=True)
class Reported:
    """What became of one value that daily reports know: taken from them, or kept as stated."""

    path: tuple[str | int, ...]
    how: Literal["reports", "kept"]
    told: str  # the cases it rests on; for what is kept, why
    cases: int = 0


@dataclass(frozen=True)
class FromReports:
    """The daily reports behind a scenario: the file of speeds, its source, and what was taken."""

    file: str
    source: str
    unmatched: float  # share of the hours that nothing was known of
    values: tuple[Reported, ...]

    @property
    def taken(self) -> tuple[Reported, ...]:
        """What is from the reports."""
        return tuple(each for each in self.values if each.how == "reports")

    def origin(self, *start: str | int) -> str:
        """Where the values below a key path are from, in words; empty where none is from here."""
        told = [each for each in self.taken if each.path[: len(start)] == start]
        words = "; ".join(f"{each.path[-1]}: {each.told}" for each in told)
        return f"from daily reports ({self.file}, {self.source}): {words}" if told else ""
