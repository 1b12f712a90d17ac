"""Calls by week, interests by branch, and what a partner sees.

Origins of the expected numbers:
    by hand       jobs of single numbers whose days and costs are round
    independent   the sums of the answer, which come from other tables
"""

from __future__ import annotations

from datetime import date, datetime
from functools import cache
from pathlib import Path

import pytest
from raw_jobs import Table
from supplement_jobs import answered, checked

import econ
from econ.decision import Answer
from econ.decision.call_schedule import call_schedule
from econ.decision.interests import interests, net_curve
from econ.decision.reply import reply
from econ.reports.supplement import supplement
from econ.reports.tables.partners import call_rows, partners

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
POINT = Path(__file__).parents[2] / "scenarios" / "point"
DEMOS = (
    "a_land_twist_off",
    "b_offshore_sealed_sources",
    "c_bit_cones",
    "d_rented_tools",
    "e_stuck_attached",
)


def plain_job(**more: object) -> Table:
    """Two runs of a day, a day of work after a recovery, a fallback of four days; 24,000 a day and
    nothing else. The fish is out of either run with 1/2."""
    run = {"hours": 24, "odds": {"recovered": 0.5, "nothing": 0.5}}
    return {
        "schema": 1,
        "units": "field",
        "currency": "USD",
        "job": {"well": "Invented", "decided_at": datetime(2026, 3, 14)},  # a Saturday
        "well": {"depth": 10_000, "hole_diameter": 8.5, "shoe_depth": 4_000},
        "rates": {"rig": 24_000},
        "fish": {"top": 9_000, "bottom": 9_500},
        "run": [{"name": "one", **run}, {"name": "two", **run}],
        "recovery": {"hours": 24, "fishing_share": 0},
        "fallback": [{"name": "Respud", "kind": "respud", "hours": 96, "cost": 104_000}],
        "draws": {"n": 16, "seed": 7, "scrambles": 16},
        "partner": [
            {"name": "One", "interest": 0.5, "operator": True},
            {"name": "Two", "interest": 0.3},
            {"name": "Three", "interest": 0.2},
        ],
        **more,
    }


@cache
def plain() -> Answer:
    return answered(plain_job())


@cache
def demo(name: str) -> Answer:
    return econ.answer(econ.load(POINT / f"{name}.toml", ["draws.n=64"]))


def test_weeks_by_hand() -> None:
    # by hand: Saturday and Sunday are the runs; granted is that both fail and the fallback fills
    # four days from Monday at 24,000 + 26,000 a day. On average: run one, then with 1/2 a day of
    # work on Sunday or run two; after it with 1/4 each a day of work or four of fallback from
    # Monday on
    found = plain()
    assert found.best == 2
    first, second = call_schedule(found)
    assert (first.first, second.first) == (date(2026, 3, 9), date(2026, 3, 16))
    assert (first.begins, first.ends, second.begins) == (0.0, 2.0, 2.0)
    assert first.expected == pytest.approx((36_000, 12_000, 0))
    assert first.granted == pytest.approx((48_000, 0, 0))
    assert second.expected == pytest.approx((0, 6_000, 50_000))
    assert second.granted == pytest.approx((0, 0, 200_000))


def test_weeks_without_a_clock_are_counted_from_now() -> None:
    raw = plain_job(job={"well": "Invented"})
    (week,) = call_schedule(answered(raw))
    assert week.first is None
    assert week.expected == pytest.approx((36_000, 18_000, 50_000))
    raw["fallback"][0]["hours"] = 24 * 12
    weeks = call_schedule(answered(raw))
    assert [week.begins for week in weeks][1:] == [7.0]


@pytest.mark.parametrize("name", DEMOS)
def test_weeks_sum_to_the_answer(name: str) -> None:
    # independent: the slices are read from other sums
    found = demo(name)
    weeks, slices = call_schedule(found), found.authority.call.slices
    for number, each in enumerate(slices):
        spent = sum(week.expected[number] for week in weeks)
        assert spent == pytest.approx(each.expected, rel=1e-9, abs=1e-6)
        granted = {"1a": each.planned, "1b": 0.0, "2": each.mean}[each.slice]
        called = sum(week.granted[number] for week in weeks)
        assert called == pytest.approx(granted, rel=1e-9, abs=1e-6)
    assert min(min(week.expected) for week in weeks) >= -1e-6
    edges = [week.begins for week in weeks]
    assert edges == sorted(edges)


@pytest.mark.parametrize("name", DEMOS)
def test_calls_of_partners_sum_to_the_gross(name: str) -> None:
    # independent: to the last decimal, week by week and so far
    found = partners(demo(name))
    for case in (0, 1):
        so_far = paid = 0.0
        for number in range(len(found.weeks)):
            so_far += found.gross[number][case]
            paid += sum(page.calls[number][case] for page in found.pages)
            assert paid == pytest.approx(so_far, abs=0.00501)
    # and end at what the supplement asks for, gross and net, and at its mean
    asked = supplement(demo(name))
    ends = [sum(week[case] for week in found.gross) for case in (0, 1)]
    assert ends == [asked.ask.sums[1].amount.number, asked.ask.granted.amount.number]
    for page, partner in zip(found.pages, asked.shares.partners, strict=True):
        names = ("stage_1_asked_for", "stage_2_if_needed", "expected_call")
        first, then, mean = (partner.nets[each].number for each in names)
        paid = [sum(call[case] for call in page.calls) for case in (0, 1)]
        assert paid == pytest.approx([mean, first + then], abs=1e-6)


def test_calls_over_the_night_of_a_change() -> None:
    # published: clocks in Oslo are put forward on Sunday 29 March 2026, so that the week which a
    # Saturday midnight begins has 47 hours left
    raw = plain_job(job={"well": "Invented", "decided_at": datetime(2026, 3, 28)})
    raw["limits"] = {"time_zone": "Europe/Oslo"}
    first = call_schedule(answered(raw))[0]
    assert first.ends == pytest.approx(47 / 24)


# ---- interests by branch ------------------------------------------------------------------------


def declining(**carried: float) -> Table:
    raw = plain_job()
    raw["partner"][1] |= {"declines_fallback": True, "carried_by": carried}
    return raw


def test_interests_by_branch_by_hand() -> None:
    found = interests(checked(declining(One=0.75, Three=0.25)))
    assert found.fishing == (0.5, 0.3, 0.2)
    assert found.fallback == pytest.approx((0.725, 0.0, 0.275))
    assert found.differ
    assert not interests(plain().scenario).differ


def test_a_partner_who_declines_pays_for_fishing_alone() -> None:
    job = answered(declining(One=1.0))
    shares = supplement(job).shares
    names = ("expected_1a", "expected_1b", "expected_2")
    means = [[each.nets[name].number for name in names] for each in shares.partners]
    # 0.3 of 36,000 and 18,000; 0.8 of 50,000
    assert means == [[18_000, 9_000, 40_000], [10_800, 5_400, 0], [7_200, 3_600, 10_000]]
    _, two, _ = partners(job).pages
    assert two.declines
    assert sum(two.calls[week][0] for week in range(2)) == pytest.approx(16_200)
    assert sum(two.calls[week][1] for week in range(2)) == pytest.approx(14_400)  # 0.3 of 48,000


def test_the_curve_of_the_operator_by_hand() -> None:
    # by hand: gross of no, one and two runs: 200,000; 24,000 + 12,000 + 100,000; 36,000 + 18,000 +
    # 50,000. The operator pays 0.5 of fishing and 0.8 of the fallback
    found = net_curve(answered(declining(One=1.0)), partner=0)
    assert found.gross == pytest.approx((200_000, 136_000, 104_000))
    assert found.net == pytest.approx((160_000, 98_000, 67_000))
    assert (found.best, found.best_gross) == (2, 2)
    same = net_curve(plain(), partner=0)
    assert same.net == pytest.approx([each / 2 for each in same.gross])


def test_who_carries_more_of_the_fallback_fishes_longer() -> None:
    # by hand: a second run costs 24,000 for 1/2 x (fallback 36,000 - 24,000 of work) = 6,000 gross:
    # no. To an operator who pays a tenth of fishing and all of the fallback it is 2,400 for
    # 1/2 x (36,000 - 2,400) = 16,800
    raw = plain_job()
    raw["fallback"][0] |= {"hours": 24, "cost": 12_000}
    raw["partner"] = [
        {"name": "One", "interest": 0.1, "operator": True},
        {"name": "Two", "interest": 0.9, "declines_fallback": True, "carried_by": {"One": 1}},
    ]
    found = net_curve(answered(raw), partner=0)
    assert (found.best_gross, found.best) == (0, 2)
    assert found.net == pytest.approx((36_000, 2_400 + 1_200 + 18_000, 3_600 + 1_800 + 9_000))


# ---- the reply ----------------------------------------------------------------------------------


def test_a_reply_by_hand() -> None:
    raw = plain_job()
    raw["limits"] = {"response_hours": 48, "response_days": "working"}
    found = reply(answered(raw))
    assert (found.notice, found.due) == (datetime(2026, 3, 14), datetime(2026, 3, 18))
    assert (found.hours, found.from_now) == (96.0, 96.0)
    assert found.standing == 96_000
    raw["limits"]["notice_at"] = datetime(2026, 3, 13, 12)
    found = reply(answered(raw))
    assert found.due == datetime(2026, 3, 17, 12)
    assert (found.hours, found.from_now) == (96.0, 84.0)
    page = partners(answered(raw)).pages[1]
    assert (page.hour, page.until_reply) == pytest.approx((300.0, 25_200.0))
    # by hand: by day 3.5 both runs, 24,000 + 12,000, and the work after them, 12,000 + 6,000, are
    # done, and of the fallback, 50,000 from day 2 to day 6, three eighths; of 72,750 the 30 %
    assert page.by_then == pytest.approx(21_825.0)


def test_rows_of_calls_have_no_totals() -> None:
    rows = call_rows(plain())
    assert len(rows) == 2 * 4
    assert {row["partner"] for row in rows} == {"gross", "One", "Two", "Three"}
    assert rows[0]["first_day"] == "2026-03-09"
    for week in (1, 2):
        mine = [row for row in rows if row["week"] == week]
        for case in ("expected", "granted"):
            gross = next(row[case] for row in mine if row["partner"] == "gross")
            assert sum(row[case] for row in mine if row["partner"] != "gross") == pytest.approx(
                gross
            )
