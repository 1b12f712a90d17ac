"""Published economics of fishing: the break-even chart and the rules of thumb.

Grades: A regulation, standard, textbook or society paper; B trade page or training text.
"""

from __future__ import annotations

import pytest
from full_text import text

from econ.decision import Answer, answer
from econ.decision.rules_of_thumb import (
    economic_fishing_days,
    half_rule_days,
    time_limit_days,
)
from econ.records import beta_posterior_mean, wilson_interval
from econ.scenario import parse

# Break-even chart. Grade B: web copy of an old drilling text, chapter "Fishing".
# Erratum: the text prints a break-even pace of 3/2 collar a day; its own table gives 4/3, and at
# 3/2 the net is +10,000. The 20 collars are inferred from the table.
COLLARS, COLLAR, SIDETRACK, DAY = 20, 2_500.0, 40_000.0, 6_000.0


def scenario_text(*, run_days: float | None, fallback: str, more: str = "", n: int = 16) -> str:
    """A fish of twenty collars, at most one run that is sure to recover it, and a fallback."""
    collars = f'\n[[fish.piece]]\nname = "Collar"\nlength = 30\nvalue = {COLLAR}\n' * COLLARS
    run = (
        ""
        if run_days is None
        else f'[[run]]\nname = "Collar after collar"\nhours = {24 * run_days}\n'
        "[run.odds]\nrecovered = 1\n"
    )
    return f"""
schema = 1
units = "field"
currency = "USD"
[job]
well = "Chart 1 (invented)"
[well]
depth = 9000
hole_diameter = 8.5
shoe_depth = 3000
[rates]
rig = 5000
[fishing]
day_rates = {{ tools = 1000 }}
[recovery]
hours = 0
[fish]
top = 8400
bottom = 9000
{collars if "share" in fallback else ""}
{run}
[[fallback]]
name = "Sidetrack"
{fallback}
{more}
[draws]
n = {n}
seed = 5
"""


def answer_text(*, run_days: float | None, fallback: str, more: str = "", n: int = 16) -> Answer:
    """The answer to such a scenario."""
    return answer(parse(scenario_text(run_days=run_days, fallback=fallback, more=more, n=n)))


def chart(run_days: float) -> Answer:
    return answer_text(
        run_days=run_days, fallback=f"hours = 0\ncost = {SIDETRACK}\nlost_in_hole_share = 1"
    )


def test_time_limit_of_the_break_even_chart() -> None:
    # published: (50,000 + 40,000) / 6,000 = 15.0 days. The formula
    # (V + Cs) / (Cf + Cd) is widely printed in handbooks (memory).
    days = time_limit_days(fish_and_sidetrack=COLLARS * COLLAR + SIDETRACK, daily_cost=DAY)
    assert days == pytest.approx(15.0, abs=1e-12)
    assert days * DAY == pytest.approx(90_000.0)


def test_break_even_pace_is_four_collars_in_three_days() -> None:
    # published (erratum above): all collars out on the day that the time limit is reached
    days = time_limit_days(fish_and_sidetrack=COLLARS * COLLAR + SIDETRACK, daily_cost=DAY)
    assert pytest.approx(4 / 3) == COLLARS / days


@pytest.mark.parametrize(
    ("days", "net", "runs", "resolved"),
    [
        (20.0, -30_000.0, 0, True),
        (10.0, 30_000.0, 1, True),
        (15.0, 0.0, 0, False),
        (20 / 1.5, 10_000.0, 1, True),  # the erratum: 3/2 collar a day does not break even
    ],
)
def test_break_even_chart_through_the_whole_program(
    days: float, net: float, runs: int, resolved: bool
) -> None:
    # published: 1 collar a day takes 20 days and loses 30,000; 2 a day take 10
    # and gain 30,000; at 4/3 a day 90,000 are spent and saved
    found = chart(days)
    stop_now, one_run = found.by_runs
    assert stop_now.expected_cost == pytest.approx(90_000.0, abs=1e-6)
    assert one_run.expected_cost == pytest.approx(days * DAY, abs=1e-6)
    assert stop_now.expected_cost - one_run.expected_cost == pytest.approx(net, abs=1e-6)
    assert one_run.probability_recovered == pytest.approx(1.0)
    assert (found.best, found.fish, found.resolved) == (runs, runs > 0, resolved)
    verdict = text(found).removeprefix("CLOSE CALL, leaning ")
    assert verdict.startswith("FISH ON" if runs else "STOP FISHING")
    assert found.close_call is (abs(net) <= 0.02 * min(90_000.0, days * DAY))
    assert ("TIE: 0 and 1 runs cost the same" in verdict) is not resolved


def test_rules_of_the_program_on_the_chart() -> None:
    # published: a sure recovery makes the economic time the time limit of
    # 15 days; half of 90,000 over the rig's 5,000 is 9 days
    rules = chart(10.0).rules
    assert rules.time_limit_days == pytest.approx(15.0)
    assert rules.economic_fishing_days == pytest.approx(15.0)
    assert rules.half_rule_days == pytest.approx(9.0)


@pytest.mark.parametrize("chance", [0.0, 0.25, 1.0])
def test_economic_fishing_time_is_the_chance_times_the_limit(chance: float) -> None:
    # identity (grade B): public drilling manual site, "When to give up attempts
    # to free the pipe"
    found = economic_fishing_days(chance=chance, fish_and_sidetrack=90_000.0, daily_cost=6_000.0)
    assert found == pytest.approx(chance * 15.0)


def test_half_rule() -> None:
    # identity (grade B): drilling lecture notes, "Fishing economics", 2014: total
    # of fish, plug, sidetrack and redrill over the rig day rate, halved: 90,000 / 5,000 / 2
    assert half_rule_days(fish_and_sidetrack=90_000.0, rig_day=5_000.0) == pytest.approx(9.0)


def test_rules_with_nothing_to_pay_by_the_day_set_no_limit() -> None:
    # by definition: what costs nothing a day can go on for ever
    assert time_limit_days(fish_and_sidetrack=1.0, daily_cost=0.0) == float("inf")


def test_inspection_against_a_simple_fishing_job() -> None:
    # published (grade A): C.S. Adkins, "Economics of Fishing", JPT 1993, first
    # page: about 20,000 $ for a simple fishing job at 10,000 ft against 15,000 $ to inspect the
    # strings beforehand. Order of magnitude only: the job is a few days at the chart's rate,
    # and inspecting pays if such a job is more likely than 3 in 4.
    days = time_limit_days(fish_and_sidetrack=20_000.0, daily_cost=DAY)
    assert 1.0 < days < 10.0
    found = time_limit_days(fish_and_sidetrack=15_000.0, daily_cost=20_000.0)
    assert found == pytest.approx(0.75)


def test_fourteen_of_seventeen_freed() -> None:
    # published (grade A): Dupriest, Elks & Ottesen, IADC/SPE 128129, 2010,
    # abstract: 14 of 17 stuck events freed. Wilson 95 % interval 59.0 to 93.8 %; mean of the
    # posterior of Beta(1, 1) 15/19 (both recomputed).
    low, high = wilson_interval(successes=14, cases=17)
    assert low == pytest.approx(0.590, abs=0.0005)
    assert high == pytest.approx(0.938, abs=0.0005)
    assert beta_posterior_mean(successes=14, cases=17) == pytest.approx(15 / 19)


@pytest.mark.parametrize(("successes", "cases"), [(14, 17), (0, 5), (5, 5), (1, 400)])
@pytest.mark.parametrize("confidence", [0.5, 0.95, 0.99])
def test_wilson_interval_against_scipy(successes: int, cases: int, confidence: float) -> None:
    # independent: scipy.stats
    from scipy.stats import binomtest

    ours = wilson_interval(successes=successes, cases=cases, confidence=confidence)
    interval = binomtest(successes, cases).proportion_ci(confidence, method="wilson")
    assert ours == pytest.approx((interval.low, interval.high), abs=1e-12)


@pytest.mark.parametrize(("successes", "cases"), [(-1, 5), (6, 5), (0, -1)])
def test_impossible_counts_are_refused(successes: int, cases: int) -> None:
    with pytest.raises(ValueError, match="give 0 <= successes <= cases"):
        wilson_interval(successes=successes, cases=cases)
    with pytest.raises(ValueError, match="give 0 <= successes <= cases"):
        beta_posterior_mean(successes=successes, cases=cases)


def test_no_case_at_all_leaves_the_prior() -> None:
    # by definition
    assert wilson_interval(successes=0, cases=0) == (0.0, 1.0)
    assert beta_posterior_mean(successes=0, cases=0, prior_mean=0.3) == pytest.approx(0.3)
