"""What it costs to end late, against sums over every number of attempts, written out.

Independent: L(T) = once + per day x days late is summed term by term over the retries here; the
program has the sums in closed form.
"""

import math

import numpy as np
import pytest

from econ.job import Bill, Deadline
from econ.job.bill import Attempts

TERMS = 4000


def number(value: float) -> np.ndarray:
    return np.asarray(value)


def late_cost(deadline: Deadline, day: float) -> float:
    late = day - float(deadline.due)
    return float(deadline.once) + float(deadline.per_day) * late if late > 1e-9 else 0.0


def ways(bill: Bill) -> list[tuple[float, float, float]]:
    """Chance, hours and cost of every way that a fallback may go."""
    q, tools, found = float(bill.failure), bill.whipstock, []
    sure = float(bill.certain)
    most = TERMS if tools is None else int(tools.after)
    for j in range(most):
        hours = float(bill.hours) + j * float(bill.retry_hours)
        found.append(((1 - q) * q**j, hours, sure + j * float(bill.per_retry)))
    if tools is not None:
        w = float(tools.failure)
        for i in range(TERMS):
            hours = float(bill.hours) + (most - 1) * float(bill.retry_hours)
            cost = sure + (most - 1) * float(bill.per_retry) + (i + 1) * float(tools.each)
            chance = q**most * (1 - w) * w**i
            found.append((chance, hours + (i + 1) * float(tools.hours), cost))
    s = float(bill.stick_chance)
    both = []
    for chance, hours, cost in found:
        both.append((chance * (1 - s), hours, cost))
        both.append((chance * s, hours + float(bill.stick_hours), cost + float(bill.stick_cost)))
    return both


def bill(*, due: float, q: float, stick: float = 0.0, whipstock: bool = False) -> Bill:
    tools = Attempts(number(2.0), number(45_000.0), number(0.3), number(40.0))
    return Bill(
        hours=number(240.0),
        bit_trips=number(0.0),
        time=number(500_000.0),
        charges=number(60_000.0),
        per_retry=number(90_000.0),
        failure=number(q),
        stick_chance=number(stick),
        stick_cost=number(200_000.0),
        retry_hours=number(36.0),
        stick_hours=number(74.0),
        whipstock=tools if whipstock else None,
        deadline=Deadline(number(due), number(150_000.0), number(20_000.0)),
        begun=number(1.5),
    )


JOBS = [
    bill(due=due, q=q, stick=stick, whipstock=whipstock)
    for due in (2.0, 11.5, 12.9, 13.0, 16.2, 400.0)
    for q in (0.0, 0.25, 0.7)
    for stick in (0.0, 0.2)
    for whipstock in (False, True)
]


@pytest.mark.parametrize("job", JOBS)
def test_the_mean_is_the_sum_over_every_way(job: Bill) -> None:
    assert job.deadline is not None
    expected = math.fsum(
        chance * (cost + late_cost(job.deadline, 1.5 + hours / 24))
        for chance, hours, cost in ways(job)
    )
    assert float(job.mean()) == pytest.approx(expected, rel=1e-10)
    assert sum(float(line) for line in job.items().values()) == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize("job", JOBS)
def test_the_exponential_is_the_sum_over_every_way(job: Bill) -> None:
    assert job.deadline is not None
    t = 1_500_000.0
    expected = math.fsum(
        chance * math.exp((cost + late_cost(job.deadline, 1.5 + hours / 24)) / t)
        for chance, hours, cost in ways(job)
        if chance > 0
    )
    found = float(job.mean_exponential(tolerance=t, less=number(0.0)))
    assert found == pytest.approx(expected, rel=1e-9)


def test_the_exponential_has_no_end_where_late_retries_cost_too_much() -> None:
    # 0.7 exp((90,000 + 30,000)/t) is 1 at t = 336,000, and 0.7 exp(90,000/t) at 252,000.
    job = bill(due=12.0, q=0.7)
    assert np.isinf(job.mean_exponential(tolerance=300_000.0, less=number(0.0)))
    assert np.isfinite(job.mean_exponential(tolerance=340_000.0, less=number(0.0)))


@pytest.mark.parametrize("job", JOBS[::3])
def test_events_have_the_mean(job: Bill) -> None:
    u = (np.arange(200_000) + 0.5) / 200_000
    events = list(job.events(retry_draw=u))
    assert sum(float(np.mean(chance)) for chance, _ in events) == pytest.approx(1.0)
    mean = sum(float(np.mean(chance * cost)) for chance, cost in events)
    assert mean == pytest.approx(float(job.mean()), rel=1e-3)


def test_exactly_on_time_is_not_late() -> None:
    deadline = Deadline(number(10.0), number(500.0), number(20.0))
    assert float(deadline.cost(number(10.0))) == 0.0
    # 0.1 ten times is no whole 1: rounding is not late
    assert float(deadline.cost(number(9.0 + sum([0.1] * 10) + 1e-12))) == 0.0
    assert float(deadline.cost(number(10.001))) == pytest.approx(500.02)
    # ends on day 10 without a failure, 0.5 of which come to 11
    assert float(deadline.expected(number(10.0), number(0.5), number(1.0))) == pytest.approx(
        0.5 * (500.0 + 20.0 * 2.0)
    )
