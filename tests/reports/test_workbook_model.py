"""The formulas of the AFE supplement: what they give, without any sheet around them.

Origins of the expected numbers:
    published     notes of scenario A (an invented well), to the printed digit; a drilling manual
    independent   the outcome tree of tests/reference, which shares no code with the package, and
                  the program's own curves, which share none with the formulas
    self          none
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import pytest
from raw_jobs import SCENARIO_A, Table, read
from reference import outcome_tree
from workbook_jobs import FEW, answered, for_tree, random_job, scenario_a

from econ.decision import Answer
from econ.decision.detail.paths import MOST_AT_A_LEVEL, paths
from econ.reports.tables.afe import Supplement, supplement
from econ.reports.tables.afe_shares import shares
from econ.reports.tables.figures import CAUSE_WORDS, causes
from econ.reports.tables.formula import Cell
from econ.scenario import load
from econ.scenario.paperwork import Partner

CENT = 0.005
DOLLAR = 0.51  # half of the last printed digit, and a little
SAMPLED = 40.0  # [currency] what 16 x 256 draws of scenario A leave uncertain, five errors
FACTORS = ("fishing_factor", "fallback_factor", "need_factor", "days_factor", "planned_factor")
POINTS = SCENARIO_A.parents[2] / "scenarios" / "point"


def by_formula(found: Supplement) -> list[float]:
    return [
        row["fishing_formula"].number + row["fallback_formula"].number for row in found.model.limits
    ]


@pytest.fixture(scope="module")
def a() -> Supplement:
    raw = scenario_a()
    raw["draws"] = {**FEW, "n": 256}
    return supplement(answered(raw))


# ---- against the tree ---------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(16))
def test_formulas_are_the_outcome_tree(seed: int) -> None:
    # independent: every end of the tree, in another implementation, parts and damaged tops in it
    raw = random_job(seed)
    found = supplement(answered(raw))
    tree = outcome_tree.by_runs(for_tree(raw))
    assert by_formula(found) == pytest.approx([each.expected_cost for each in tree], abs=CENT)
    chances = [1 - row["need_formula"].number for row in found.model.limits]
    assert chances == pytest.approx([each.probability_recovered for each in tree], abs=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_no_factor_where_nothing_is_sampled(seed: int) -> None:
    # independent: the program is exact there, so its numbers are those of the formulas
    found = supplement(answered(random_job(seed, plain=True)))
    for row in found.model.limits:
        assert [row[name].number for name in FACTORS] == pytest.approx([1] * 5, abs=1e-10)
    assert [share.factor.number for share in found.split.shares] == pytest.approx(
        [1] * len(found.split.shares), abs=1e-9
    )


def test_scenario_a_by_formula(a: Supplement) -> None:
    # published: last column of the steps table, and the fallback build-up
    printed = [713_532, 526_671, 507_282, 499_510, 532_912, 569_682]
    assert by_formula(a) == pytest.approx(printed, abs=DOLLAR)
    hours = [item.cell.number for item in a.given.fallbacks[0].hours]
    assert hours == pytest.approx([12.3, 3, 10, 3.2, 10.8, 4, 11, 24.4, 0, 2], abs=0.05001)
    assert a.model.recovery_cost.number == pytest.approx(122_325, abs=DOLLAR)


def test_afe_table_of_scenario_a(a: Supplement) -> None:
    # published: the totals of the AFE table; sampled outcomes leave some dollars
    total = {name: cell.number for name, cell in a.costs.total.items()}
    assert (total["original"], total["approved"], total["spent"]) == (4.27e6, 4.27e6, 2.73e6)
    assert total["to_come"] + total["trouble"] == pytest.approx(1_789_510, abs=SAMPLED)
    assert total["revised"] == pytest.approx(4_519_510, abs=SAMPLED)
    assert total["change"] == pytest.approx(249_510, abs=SAMPLED)
    assert a.costs.percent.number == pytest.approx(0.058, abs=0.0005)
    assert a.costs.trouble["fishing"].number == pytest.approx(259_215, abs=SAMPLED)
    assert a.costs.trouble["fallback"].number == pytest.approx(240_295, abs=SAMPLED)
    assert a.stages["need"].number == pytest.approx(0.310, abs=0.0005)
    assert a.stages["stage_2_mean"].number == pytest.approx(774_315, abs=100)
    assert a.costs.released.number == 250_000
    changes = {line.ours: line.amounts["change"].number for line in a.costs.lines}
    assert changes["CT10"] == -250_000
    assert all(change == 0 for code, change in changes.items() if code[:2] in ("RT", "LA", "TG"))


def test_trigger_of_scenario_a(a: Supplement) -> None:
    # published: 5.8 % over, under the 10 % that is common practice
    assert a.costs.triggered.value == "within the trigger"
    raw = scenario_a()
    raw["afe"] = {**raw["afe"], "trigger_percent": 5}
    assert supplement(answered(raw)).costs.triggered.value == "over the trigger"
    raw["afe"] = {**raw["afe"], "trigger_percent": 10, "trigger_basis": "line"}
    assert supplement(answered(raw)).costs.triggered.value == "over the trigger"  # new lines


# ---- against the program ------------------------------------------------------------------------


def check_against_program(answer: Answer, found: Supplement) -> None:
    for row, limit in zip(found.model.limits, answer.by_runs, strict=True):
        assert row["expected_cost"].number == pytest.approx(limit.expected_cost, abs=CENT)
        assert row["recovered_share"].number == pytest.approx(limit.probability_recovered, abs=1e-9)
        assert row["days"].number == pytest.approx(limit.days, abs=1e-9)
    stage = found.stages
    assert stage["planned"].number == pytest.approx(answer.stage_1.planned, abs=CENT)
    assert stage["mean"].number == pytest.approx(answer.stage_1.mean, abs=CENT)
    assert stage["p90"].value == answer.stage_1.p90
    assert stage["need"].number == pytest.approx(answer.stage_2.probability, abs=1e-9)
    assert stage["spending"].number == pytest.approx(answer.stage_2.mean, abs=CENT)
    assert stage["stage_2_p90"].value == answer.stage_2.p90
    program = {row["cause"]: row["expected"] for row in causes(answer)}
    for cause, words in CAUSE_WORDS.items():
        lines = [share.value.number for share in found.split.shares if share.cause == cause]
        assert math.fsum(lines) == pytest.approx(program.get(words, 0.0), abs=CENT), cause
    given_up = program.get(CAUSE_WORDS["value_given_up"], 0.0)
    trouble = found.costs.total["trouble"].number
    assert trouble == pytest.approx(answer.limit.expected_cost - given_up, abs=CENT)
    assert stage["expected_call"].number == pytest.approx(trouble, abs=CENT)


@pytest.mark.parametrize(
    ("file", "log"),
    [
        ("a_land_twist_off", None),
        ("a_land_twist_off", "a_two_runs"),
        ("b_offshore_sealed_sources", None),
        ("c_bit_cones", None),
        ("d_rented_tools", None),
        ("d_rented_tools", "d_three_runs"),
    ],
)
def test_every_number_is_that_of_the_program(file: str, log: str | None) -> None:
    # independent: the program's curves over all draws
    from econ.decision import answer
    from econ.scenario.run_log import read_log

    folder = POINTS.parent
    scenario = load(folder / f"{file}.toml", ("draws.n=64",))
    made = () if log is None else read_log(folder / "logs" / f"{log}.csv", scenario)
    found = answer(scenario, made)
    check_against_program(found, supplement(found))


@pytest.mark.parametrize("seed", range(20, 26))
def test_random_jobs_with_ranges(seed: int) -> None:
    # independent: the program's curves over all draws
    found = answered(random_job(seed, ranges=True))
    check_against_program(found, supplement(found))


def logged(outcome: str) -> Answer:
    from econ.decision import answer
    from econ.scenario.run_log import parse_log

    scenario = load(SCENARIO_A, ("draws.n=16",))
    row = f"1,2026-03-14T06:00,2026-03-15T10:00,{outcome},80000"
    return answer(scenario, parse_log(f"run,start,end,outcome,cost\n{row}\n", scenario))


@pytest.mark.parametrize("outcome", ["recovered", "string_lost", "hole_lost", "top_damaged"])
def test_after_a_log(outcome: str) -> None:
    # independent: the program's answer from the end of the log on
    answer = logged(outcome)
    found = supplement(answer)
    for row, limit in zip(found.model.limits, answer.by_runs, strict=True):
        assert row["expected_cost"].number == pytest.approx(limit.expected_cost, abs=CENT)
    spent = [line for line in found.costs.lines if line.group == "log"]
    assert [line.amounts["spent"].number for line in spent] == [80_000]
    assert found.costs.total["spent"].number == 80_000
    assert found.costs.total["trouble"].number == pytest.approx(
        answer.limit.expected_cost, abs=CENT
    )


def test_belief_after_a_log() -> None:
    # published: 0.70 before, 0.42 after one run that ended with nothing
    found = supplement(logged("nothing"))
    assert found.given.belief[0].number == pytest.approx(0.416, abs=0.0005)


def test_common_rentals_whipstock_and_growing_losses() -> None:
    # independent: the program is exact for a single path, so no factor is left
    raw = random_job(3, plain=True)
    raw["fishing"] |= {"odds_ratio_per_day": 0.9, "loss_odds_ratio_per_day": 1.2}
    raw["common"] = {"hours": 12, "cost": 5_000}
    raw["rental"] = [
        {
            "tool": "jars",
            "mobilization": 9_000,
            "minimum_days": 4,
            "day": 1_200,
            "redress": 800,
            "standby_day": 500,
            "replacement": 60_000,
            "delivery": 9,
        },
        {"tool": "pipe", "held_days": 2, "minimum_days": 9, "day": 700},
    ]
    sidetrack = next(
        each for seed in range(9) for each in random_job(seed)["fallback"] if "woc" in each
    )
    sidetrack["whipstock"] = {"after": 2, "hours": 30, "cost": 80_000, "failure": 0.2}
    raw["fallback"] = [sidetrack]
    found = supplement(answered(raw))
    assert len(found.model.limits) > 2
    for row in found.model.limits:
        assert [row[name].number for name in FACTORS] == pytest.approx([1] * 5, abs=1e-9)


# ---- states -------------------------------------------------------------------------------------


def long_job(count: int) -> Table:
    raw = random_job(4)
    run = raw["run"][0]
    raw["run"] = [
        {**run, "name": f"run {n}", "part_length": 11 + 7 * n, "hours": 20, "dresses_top": False}
        for n in range(count)
    ]
    for each in raw["run"]:
        each.pop("trips", None)
    return raw


def test_many_states_are_put_together() -> None:
    # independent: the program's curves; chances of all states sum to those still fishing
    found = supplement(answered(long_job(12)))
    assert found.means.merged > 0
    levels = [state.runs_made for state in found.means.states]
    assert max(levels.count(level) for level in levels) <= MOST_AT_A_LEVEL
    for number, (row, limit) in enumerate(
        zip(found.model.limits, found.answer.by_runs, strict=True)
    ):
        assert row["expected_cost"].number == pytest.approx(limit.expected_cost, abs=CENT)
        cost = row["fishing_formula"].number + row["fallback_formula"].number
        assert cost == pytest.approx(limit.expected_cost, rel=0.01), number


def test_states_and_places_of_one_run() -> None:
    # independent: by hand. One run: nothing, part and damaged go on; the part is 60 ft.
    raw = read(SCENARIO_A)
    raw["run"], raw["draws"] = raw["run"][:1], FEW
    found = paths(answered(raw).scenario)
    assert [(s.runs_made, s.top, s.damaged) for s in found.states] == [
        (0, 11_180.0, False),
        (1, 11_180.0, False),
        (1, 11_180.0, True),
        (1, 11_240.0, False),
    ]
    assert {(p.sort, p.upper, p.pieces_top) for p in found.places} == {
        ("stop", 11_180.0, 11_180.0),
        ("stop", 11_240.0, 11_240.0),
        ("string_lost", 10_830.0, 11_180.0),
        ("hole_lost", None, 11_180.0),
    }


# ---- checks and shares --------------------------------------------------------------------------


AMOUNTS = {"a": Cell(259_215.358), "b": Cell(-250_000.005), "c": Cell(100.01), "d": Cell(0.0)}


@cache
def _job() -> Answer:
    return answered(random_job(7))


def _with_partners(partners: list[Table]) -> Answer:
    made = [Partner.model_validate(each) for each in partners]
    return replace(_job(), scenario=_job().scenario.model_copy(update={"partner": made}))


@pytest.mark.parametrize("seed", range(30))
def test_nets_are_to_the_cent_and_sum_to_the_gross(seed: int) -> None:
    # independent: an identity of shares; each net within a cent of gross x interest but for the
    # partner who takes the rest
    found = shares(_with_partners(random_job(seed)["partner"]), AMOUNTS)
    for column, gross in enumerate(found.gross):
        nets = [partner.nets[column].number for partner in found.partners]
        assert gross.number == pytest.approx(round(gross.number, 2), abs=1e-9)
        if not nets:
            continue
        assert math.fsum(nets) == pytest.approx(gross.number, abs=1e-6)
        for partner, net in zip(found.partners, nets, strict=True):
            assert net == pytest.approx(round(net, 2), abs=1e-6)
            room = 0.005 * len(nets) if "rest" in partner.role else 0.005
            share = gross.number * partner.interest.number
            assert net == pytest.approx(share, abs=room + 1e-5)


@pytest.mark.parametrize(
    ("interests", "operator", "last"),
    [([1.0], None, 0), ([62.5, 25, 12.5], 2, 2), ([0.2, 0.5, 0.3], None, 1), ([100], 0, 0)],
)
def test_who_takes_the_rest(interests: list[float], operator: int | None, last: int) -> None:
    # independent: the rule as stated; interests in percent are divided by 100
    partners = [
        {"name": f"P{n}", "interest": each, "operator": n == operator}
        for n, each in enumerate(interests)
    ]
    found = shares(_with_partners(partners), AMOUNTS)
    assert [n for n, each in enumerate(found.partners) if "rest" in each.role] == [last]
    assert found.interests.number == pytest.approx(1.0)
    assert found.complete.value == "interests sum to 100 %"


def test_checks_say_when_the_interests_do_not_sum() -> None:
    # independent: by hand; the file itself cannot say so, a reader of the sheet can
    found = shares(_with_partners([{"name": "P", "interest": 0.9}]), AMOUNTS)
    assert found.complete.value == "INTERESTS DO NOT SUM TO 100 %"
    assert found.partners[0].nets[0].value == "-"


def test_depreciation_has_a_floor() -> None:
    # published: daywork forms cap what is owed at the depreciated value; by hand 400,000 new, 70 %
    # written off, at least a half
    found = supplement(_job())
    assert found.given.pieces[1].owed.number == 200_000
