"""Shares of working interest, to the last decimal, and calls one after another.

Origins of the expected numbers:
    published     the quota rule: by the largest remainder each share is the exact one cut off, or
                  one unit more; and a share can fall by a unit while the whole rises, as the seats
                  of Alabama did (Balinski and Young, Fair Representation, 1982; from memory)
    independent   a slow version here that gives out one unit after another in whole numbers
    by hand       where it says so
"""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from functools import cache
from math import floor

import pytest
from raw_jobs import Table
from supplement_jobs import answered, random_job

from econ.decision import Answer
from econ.job.shares import calls, shared, taker, units
from econ.reports.supplement.cells import Cell
from econ.reports.supplement.shares import shares
from econ.scenario.paperwork import Partner

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
AWKWARD = [
    [1.0],
    [0.5, 0.5],
    [1 / 3, 1 / 3, 1 / 3],
    [0.625, 0.25, 0.125],
    [0.33333333, 0.33333333, 0.16666667, 0.16666667],
    [0.2] * 5,
    [0.9975, 0.0005, 0.0005, 0.0005, 0.0005, 0.0005],
    [1 / 7] * 7,
    [0.0, 0.125, 0.125, 0.25, 0.25, 0.125, 0.125, 0.0],
    [100 / 9] * 9,
    [37.5, 12.5, 12.5, 6.25, 6.25, 6.25, 6.25, 6.25, 3.125, 3.125],
    [0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.05, 0.05],
    [1 / 12] * 12,
]
AMOUNTS = [0.0, 0.01, 1.0, 100.01, 259_215.358, -250_000.005, 1_234_567.895, 98_765_432.1]
DECIMALS = [0, 2, 3]


def slow(whole: int, interests: list[float]) -> list[int]:
    """One unit after another to whoever is then owed the most, the exact share cut off first."""
    sign = -1 if whole < 0 else 1
    total = sum(map(Fraction, map(str, interests)))
    owed = [abs(whole) * Fraction(str(each)) / total for each in interests]
    found = [floor(each) for each in owed]
    waiting = [round(float(each - low), 4) for each, low in zip(owed, found, strict=True)]
    while sum(found) < abs(whole):
        first = max(range(len(found)), key=lambda number: (waiting[number], -number))
        found[first] += 1
        waiting[first] = -1.0
    return [sign * each for each in found]


@pytest.mark.parametrize("decimals", DECIMALS)
@pytest.mark.parametrize("interests", AWKWARD, ids=lambda each: f"{len(each)} partners")
def test_shares_sum_to_the_last_decimal(interests: list[float], decimals: int) -> None:
    dice = random.Random(len(interests))
    amounts = [*AMOUNTS, *(round(dice.uniform(-1e7, 1e7), 4) for _ in range(20))]
    for amount in amounts:
        whole = units(amount, decimals=decimals)
        assert abs(whole - amount * 10**decimals) <= 0.5 + 1e-6
        found = shared(whole, interests)
        assert sum(found) == whole
        assert found == slow(whole, interests)
        exact = [abs(whole) * each / sum(interests) for each in interests]
        for share, owed in zip(found, exact, strict=True):  # the quota rule
            assert floor(owed - 1e-6) <= abs(share) <= floor(owed + 1e-6) + 1
        last = taker(interests, None)
        custom = shared(whole, interests, rest_to=last)
        assert sum(custom) == whole
        others = [number for number in range(len(interests)) if number != last]
        for number in others:
            assert abs(abs(custom[number]) - exact[number]) <= 0.5 + 1e-6


def test_ties_go_by_the_file() -> None:
    # by hand: 100 units among three equal interests leave one, 101 leave two
    assert shared(100, [1, 1, 1]) == [34, 33, 33]
    assert shared(101, [1, 1, 1]) == [34, 34, 33]
    # 0.1 + 0.1 + 0.1 in binary is no tie of decimals; here it is one
    assert shared(5, [0.3, 0.1, 0.1, 0.1, 0.4]) == [2, 1, 0, 0, 2]


def test_a_share_can_fall_while_the_whole_rises() -> None:
    # published: the paradox of Alabama; by hand: 10 and 11 units among 6, 6 and 2
    assert shared(10, [6, 6, 2]) == [4, 4, 2]
    assert shared(11, [6, 6, 2]) == [5, 5, 1]


@pytest.mark.parametrize("decimals", DECIMALS)
@pytest.mark.parametrize("interests", AWKWARD, ids=lambda each: f"{len(each)} partners")
def test_calls_add_up_for_each_partner(interests: list[float], decimals: int) -> None:
    # independent: what a partner has paid so far is its share of what was called so far
    dice = random.Random(7 * len(interests))
    gross = [round(dice.uniform(0, 90_000), 3) for _ in range(9)]
    for rest_to in (None, taker(interests, None)):
        found = calls([gross], [interests], decimals=decimals, rest_to=rest_to)
        for week in range(1, len(gross) + 1):
            so_far = units(round(sum(gross[:week]), 3), decimals=decimals)
            paid = [round(sum(each[:week]) * 10**decimals) for each in found]
            assert sum(paid) == so_far
            assert paid == shared(so_far, interests, rest_to=rest_to)
            for share, own in zip(paid, interests, strict=True):
                room = 1.0 if rest_to is None else 0.5 * len(interests) + 0.5
                assert abs(share - so_far * own / sum(interests)) <= room


def test_roundings_of_calls_do_not_pile_up() -> None:
    # by hand: three weeks of 0.10 by 1/3: each week alone would be 0.04, 0.03, 0.03 and the first
    # would pay 0.12 of 0.30; by differences all pay 0.10
    found = calls([[0.10, 0.10, 0.10]], [[1, 1, 1]], decimals=2)
    assert [round(sum(each), 2) for each in found] == [0.10, 0.10, 0.10]
    assert found[0] == [0.04, 0.03, 0.03]


# ---- the same in the formulas of a sheet --------------------------------------------------------


@cache
def _job() -> Answer:
    return answered(random_job(7))


def _with_partners(
    partners: list[Table], *, decimals: int = 2, rounding: str = "largest_remainder"
) -> Answer:
    made = [Partner.model_validate(one) for one in partners]
    job = _job().scenario
    afe = job.afe.model_copy(update={"rounding": rounding})
    more = {"partner": made, "currency_decimals": decimals, "afe": afe}
    return replace(_job(), scenario=job.model_copy(update=more))


def _named(interests: list[float], operator: int | None = None) -> list[Table]:
    return [
        {"name": f"P{n}", "interest": each, "operator": n == operator}
        for n, each in enumerate(interests)
    ]


@pytest.mark.parametrize("decimals", DECIMALS)
@pytest.mark.parametrize("interests", AWKWARD, ids=lambda each: f"{len(each)} partners")
def test_cells_share_as_the_rule_does(interests: list[float], decimals: int) -> None:
    amounts = {str(amount): Cell(amount) for amount in AMOUNTS}
    found = shares(_with_partners(_named(interests), decimals=decimals), amounts)
    assert found.complete.value == "interests sum to 100 %"
    for amount in AMOUNTS:
        wanted = shared(units(amount, decimals=decimals), interests)
        nets = [partner.nets[str(amount)].number for partner in found.partners]
        assert nets == pytest.approx([each / 10**decimals for each in wanted], abs=1e-6)


@pytest.mark.parametrize(
    ("interests", "operator", "last"),
    [([1.0], None, 0), ([62.5, 25, 12.5], 2, 2), ([0.2, 0.5, 0.3], None, 1), ([100], 0, 0)],
)
def test_who_takes_the_rest(interests: list[float], operator: int | None, last: int) -> None:
    # independent: the custom as stated; interests in percent are divided by 100
    partners = _named(interests, operator)
    amounts = {str(amount): Cell(amount) for amount in AMOUNTS}
    found = shares(_with_partners(partners, rounding="operator_takes_rest"), amounts)
    assert [n for n, one in enumerate(found.partners) if "rest" in one.role] == [last]
    assert found.interests.number == pytest.approx(1.0)
    for amount in AMOUNTS:
        wanted = shared(units(amount, decimals=2), interests, rest_to=last)
        nets = [partner.nets[str(amount)].number for partner in found.partners]
        assert nets == pytest.approx([each / 100 for each in wanted], abs=1e-6)
    assert "takes what is then left" in found.rule


def test_interests_that_do_not_sum_are_not_shared() -> None:
    found = shares(_with_partners(_named([0.5, 0.4])), {"a": Cell(100.0)})
    assert [partner.nets["a"].value for partner in found.partners] == ["-", "-"]
    assert found.complete.value == "INTERESTS DO NOT SUM TO 100 %"


def test_a_partner_who_declines_pays_nothing_of_the_fallback() -> None:
    # by hand: 1,000 asked for, 600 of it for the fallback, at 50, 30 and 20 %; the second declines
    # and the others carry its share by 3 to 1: of the fallback 0.725, 0 and 0.275
    partners = _named([0.5, 0.3, 0.2], 0)
    partners[1] |= {"declines_fallback": True, "carried_by": {"P0": 0.75, "P2": 0.25}}
    amounts = {"asked": Cell(1_000.0), "fishing": Cell(400.0), "none": Cell(0.0)}
    fallback = {"asked": Cell(600.0), "none": Cell(0.0)}
    found = shares(_with_partners(partners), amounts, fallback)
    nets = [[net.number for net in partner.nets.values()] for partner in found.partners]
    assert [each[0] for each in nets] == pytest.approx([635.0, 120.0, 245.0])
    assert [each[1] for each in nets] == pytest.approx([200.0, 120.0, 80.0])
    assert [each[2] for each in nets] == [0.0, 0.0, 0.0]
    assert "pays nothing of it" in found.rule
