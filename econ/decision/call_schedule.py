"""When the money is called: what each week spends, on average and as a supplement grants it.

At a limit of n runs, run k lies between a_k and b_k [d from now] if every run before it failed.
With m_k the chance that a k-th run is made, r_k the chance that it brings the fish out, and E_k,
P_k, R_k the expected and planned cost of fishing and the expected work after a recovery at a
limit of k runs,

    E_k - E_(k-1), P_k - P_(k-1)   are spent evenly from a_k to b_k
    R_k - R_(k-1)                  from b_k on, over the days of that work
    of the fallback the share      from b_k on, over the mean days of a fallback
      m_k - r_k - m_(k+1)

so that the sums are those of the answer, and only their dates are an approximation: a run begins
where it would if all before it failed, spending is even, and an invoice is called when the work is
done. Granted are P_n, getting off the fish and the mean of a fallback where one is taken, both from
b_n on; where no fallback can be needed the mean of the work after a recovery. Weeks begin on
Monday by the clock of the file; without a clock they are counted from now.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from math import ceil
from typing import TYPE_CHECKING

from econ.decision.reply import clock_of
from econ.engine.ledger import LINES, SPENDING
from econ.scenario.framed import Framed

if TYPE_CHECKING:
    from econ.decision.answer import Answer

SLICES = ("1a", "1b", "2")
NOT_SPENT = "value_given_up"  # a line of the ledger
MOST_WEEKS = 60  # what comes later stands in the last
LEAST = 1e-9  # a chance or a share of an amount that is not told


@dataclass(frozen=True, repr=False)
class Flow(Framed):
    """Money spent evenly between two days [d from now], of a slice: on average, times its chance,
    and as it is granted [currency]."""

    slice: str
    begins: float
    ends: float
    expected: float
    granted: float

    def until(self, day: float) -> float:
        """Share of it that is spent by a day."""
        if day >= self.ends:
            return 1.0
        if day <= self.begins:
            return 0.0
        return (day - self.begins) / (self.ends - self.begins)


@dataclass(frozen=True, repr=False)
class Week(Framed):
    """A week: its first day, None without a clock; its begin and end [d from now]; what is spent
    in it by slice 1a, 1b and 2, on average and as it is granted [currency]."""

    first: date | None
    begins: float
    ends: float
    expected: tuple[float, float, float]
    granted: tuple[float, float, float]


def flows(answer: Answer) -> tuple[Flow, ...]:
    """What a job spends at its limit, one after another."""
    return tuple(_flows(answer))


def _flows(answer: Answer) -> Iterator[Flow]:
    limit, taken, times = answer.best, answer.quantities, answer.timetable
    fishing = [sum(each.expected[name] for name in SPENDING) for each in taken]
    planned = [sum(each.planned[name] for name in SPENDING) for each in taken]
    after = [_part(each.expected, "recovery") for each in taken]
    out = [row.probability_recovered for row in answer.by_runs]
    made = [sum(chance for _, chance, _ in each.made) for each in taken]
    ends = [times.begin, *(run.end for run in times.runs)]
    ends += [ends[-1]] * (limit + 1 - len(ends))
    days_after = times.recovery or 0.0
    yield Flow("1a", 0.0, times.begin, fishing[0], planned[0])
    for run in range(1, limit + 1):
        spent = fishing[run] - fishing[run - 1], planned[run] - planned[run - 1]
        yield Flow("1a", ends[run - 1], ends[run], *spent)
    first, after_out, then_fallback = answer.authority.call.slices
    parting = first.planned - planned[limit]
    yield Flow("1a", ends[limit], ends[limit], 0.0, parting)
    out_instead = 0.0 if then_fallback.chance > 0 else after_out.mean
    for run in range(limit + 1):
        more = after[run] - (after[run - 1] if run else 0.0)
        then = out_instead if run == limit else 0.0
        yield Flow("1b", ends[run], ends[run] + days_after, more, then)
    begins = [1.0, *(made[run] - made[run - 1] for run in range(1, limit + 1)), 0.0]
    stops = []
    for run in range(limit + 1):
        recovered = out[run] - out[run - 1] if run else out[0]
        stops.append(max(begins[run] - recovered - begins[run + 1], 0.0))
    whole = sum(stops)
    fallback = _part(taken[limit].expected, "fallback")
    days = _fallback_days(answer)
    for run, stop in enumerate(stops):
        share = stop / whole if whole > LEAST else float(run == limit)
        last = then_fallback.mean if run == limit else 0.0
        yield Flow("2", ends[run], ends[run] + days, share * fallback, last)


def _part(lines: dict[str, float] | object, part: str) -> float:
    """Sum of the lines of a part of the job that are spent [currency]."""
    assert hasattr(lines, "__getitem__")
    return float(sum(lines[name] for name, of in LINES.items() if of == part and name != NOT_SPENT))


def _fallback_days(answer: Answer) -> float:
    """Mean days of a fallback where one is taken, the wait for an approval included [d]."""
    quantities = answer.quantities[answer.best]
    chance = sum(each.taken for each in quantities.fallbacks)
    hours = sum(each.hours + each.retry_hours for each in quantities.fallbacks)
    return (hours / 24.0 + quantities.approval_days) / chance if chance > LEAST else 0.0


def call_schedule(answer: Answer) -> tuple[Week, ...]:
    """The weeks of a job at its limit, from now to the end of what is spent.

    >>> import econ
    >>> weeks = call_schedule(econ.answer(econ.load("scenarios/point/c_bit_cones.toml")))
    >>> [week.first.isoformat() for week in weeks]
    ['2026-04-27', '2026-05-04']
    """
    spent = [flow for flow in flows(answer) if flow.expected or flow.granted]
    end = max((flow.ends for flow in spent), default=0.0)
    weeks = []
    before = [0.0] * len(spent)
    for first, begins, ends in _weeks(answer, end):
        share = [flow.until(ends) for flow in spent]
        now = [new - old for new, old in zip(share, before, strict=True)]
        expected, granted = (
            tuple(
                sum(
                    part * getattr(flow, case)
                    for part, flow in zip(now, spent, strict=True)
                    if flow.slice == name
                )
                for name in SLICES
            )
            for case in ("expected", "granted")
        )
        weeks.append(Week(first, begins, ends, expected, granted))
        before = share
    return tuple(weeks)


def _weeks(answer: Answer, end: float) -> Iterator[tuple[date | None, float, float]]:
    """First day, begin and end of the weeks until a day [d from now]; the last is open."""
    now, begins = answer.now, 0.0
    clock = clock_of(answer.scenario)
    monday: datetime | None = None
    if now is not None:
        local = now if clock.zone is None or now.tzinfo is None else now.astimezone(clock.zone)
        day = local.date() - timedelta(days=local.weekday())
        monday = datetime.combine(day, time(), tzinfo=local.tzinfo)
    count = max(1, min(ceil(end / 7.0) + 1, MOST_WEEKS))
    for number in range(count):
        first = None if monday is None else monday.date() + timedelta(weeks=number)
        ends = 7.0 * (number + 1)
        if now is not None and monday is not None:
            following = datetime.combine(
                monday.date() + timedelta(weeks=number + 1), time(), tzinfo=monday.tzinfo
            )
            ends = clock.between(now, following)
        last = ends >= end or number == count - 1
        yield first, begins, max(ends, end) if last else ends
        if last:
            return
        begins = ends
