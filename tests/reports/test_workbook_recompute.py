"""Every formula of the workbook recomputed by two others, from values that are wrong on purpose.

Origins of the expected numbers:
    independent   the formulas library and LibreOffice recompute the sheets; the program answers
                  the changed scenario; the outcome tree of tests/reference
    published     S. Devereux, Practical Well Planning and Drilling Manual, sec. 2.1.5
"""

from __future__ import annotations

import copy
from dataclasses import dataclass
from pathlib import Path

import pytest
from raw_jobs import SCENARIO_A, Table, read
from reference import outcome_tree
from workbook_jobs import FEW, answered, for_tree, random_job, scenario_a
from workbook_recompute import (
    Values,
    by_formulas,
    by_libreoffice,
    cached,
    differences,
    value_of,
    with_inputs,
    with_wrong_values,
)

from econ.decision import answer
from econ.reports.tables.afe import Supplement, supplement
from econ.reports.tables.formula import Cell
from econ.reports.workbook.afe_xlsx import book
from econ.reports.workbook.book import Book
from econ.scenario import load
from econ.scenario.run_log import read_log

CENT = 0.005
SCENARIOS = SCENARIO_A.parents[2] / "scenarios"
Changes = dict[Cell, float | str]


@dataclass
class Case:
    """A supplement, its layout, and the file with wrong values and some inputs changed."""

    found: Supplement
    book: Book
    data: bytes
    wrong: bytes
    raw: Table

    def changed(self, changes: Changes) -> Case:
        return Case(
            self.found,
            self.book,
            self.data,
            with_inputs(with_wrong_values(self.data), self.book, changes),
            self.raw,
        )


def case(found: Supplement, raw: Table | None = None) -> Case:
    laid = book(found)
    data = laid.bytes()
    return Case(found, laid, data, with_wrong_values(data), raw or {})


def demo(name: str, log: str | None = None) -> Case:
    scenario = load(SCENARIOS / f"{name}.toml", ("draws.n=32",))
    made = () if log is None else read_log(SCENARIOS / "logs" / f"{log}.csv", scenario)
    return case(supplement(answer(scenario, made)))


def of(raw: Table) -> Case:
    return case(supplement(answered(raw)), raw)


def plain_job() -> Table:
    """Three runs, a sidetrack and a lump, two kinds; nothing is sampled."""
    raw = random_job(8, plain=True)
    raw["fallback"] = copy.deepcopy(
        [random_job(2)["fallback"][0], *[f for f in random_job(0)["fallback"] if "hours" in f]][:2]
    )
    return raw


# ---- inputs that a reader changes ----------------------------------------------------------------


def change_a(found: Supplement) -> Changes:
    """Rate, hours, odds, prior, charge, chance of a kick-off, value of a piece, interests."""
    given = found.given
    first = given.runs[0]
    one, two, *_ = found.shares.partners
    return {
        given.rates[0].cell: 61_000.0,
        given.fishing_rates[0].cell: 8_150.0,
        first.hours: first.hours.number + 3.0,
        first.charge: 6_000.0,
        first.odds[0]["recovered"]: 0.5,
        first.odds[1]["part"]: 0.11,
        given.runs[1].odds[0]["top_damaged"]: 0.09,
        given["workable"]: 0.6,
        given["damaged_top_factor"]: 0.45,
        given.fallbacks[0]["kickoff_failure"]: 0.3,
        given.fallbacks[0]["plug_cost"]: 41_000.0,
        given.pieces[1].owed: 200_000.0,
        given["recovery_charge"]: 50_000.0,
        one.interest: 0.5,
        two.interest: 0.375,
    }


def changed_scenario_a() -> Table:
    """The same changes in the scenario."""
    raw = copy.deepcopy(scenario_a())
    raw["rates"]["rig"] = 61_000
    raw["fishing"]["day_rates"]["services"] = 8_150
    raw["fishing"] |= {"workable": 0.6, "damaged_top_factor": 0.45}
    first, second = raw["run"][0], raw["run"][1]
    first["trips"][0]["make_up"] += 3.0
    first["charge"] = 6_000
    move(first["odds"]["workable"], recovered=0.5)
    move(first["odds"]["stubborn"], part=0.11)
    move(second["odds"]["workable"], top_damaged=0.09)
    raw["fallback"][0] |= {"kickoff_failure": 0.3, "plug_cost": 41_000}
    raw["fish"]["piece"][1]["value"] = 200_000
    raw["recovery"]["charge"] = 50_000
    return raw


def move(odds: Table, **others: float) -> None:
    """Other odds, and `nothing` takes what is left of 1."""
    odds.update(others)
    odds["nothing"] = 1 - sum(value for name, value in odds.items() if name != "nothing")


@pytest.fixture(scope="module")
def cases() -> dict[str, Case]:
    plain = of(plain_job())
    a = of(scenario_a())
    given = plain.found.given
    books = {
        "a": demo("a_land_twist_off"),
        "b": demo("b_offshore_sealed_sources"),
        "c": demo("c_bit_cones"),
        "d": demo("d_rented_tools"),
        "a_log": demo("a_land_twist_off", "a_two_runs"),
        "d_log": demo("d_rented_tools", "d_three_runs"),
        "plain": plain,
        "a_changed": a.changed(change_a(a.found)),
        "plain_changed": plain.changed(
            {
                given.rates[0].cell: 33_333.0,
                given.runs[0].odds[0]["recovered"]: 0.2,
                given.runs[0].charge: 12_345.0,
                given["common_hours"]: 7.0,
                plain.found.model.asked: 1.0,
            }
        ),
        "risks": plain.changed(
            {
                given.rates[0].cell: 79_063.0,
                **{each.cell: 0.0 for each in given.rates[1:]},
                **dict.fromkeys((r.chance for r in plain.found.risks), 0.25),
                plain.found.risks[0].days: 2.0,
                plain.found.risks[1].days: 5.0,
                plain.found.risks[2].days: 3.0,
                plain.found.risks[2].charge: 50_000.0,
                plain.found.risks[3].words: "=1+1",
            }
        ),
    }
    for seed in range(6):
        books[f"random_{seed}"] = of(random_job(100 + seed, ranges=seed % 2 == 1))
    return books


@pytest.fixture(scope="module")
def office(cases: dict[str, Case], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Values]:
    return by_libreoffice(
        {name: each.wrong for name, each in cases.items()}, tmp_path_factory.mktemp("office")
    )


UNCHANGED = ["a", "b", "c", "d", "a_log", "d_log", "plain", *(f"random_{n}" for n in range(6))]
CHANGED = ["a_changed", "plain_changed", "risks"]
FEW_SHEETS = ["d", "plain", "random_1"]  # the library takes seconds a workbook


@pytest.mark.parametrize("name", UNCHANGED)
def test_libreoffice_finds_the_values_that_were_written(
    name: str, cases: dict[str, Case], office: dict[str, Values]
) -> None:
    assert differences(cached(cases[name].data), office[name]) == []


@pytest.mark.parametrize("name", FEW_SHEETS)
def test_the_formulas_library_finds_the_values_that_were_written(
    name: str, cases: dict[str, Case]
) -> None:
    assert differences(cached(cases[name].data), by_formulas(cases[name].wrong)) == []


@pytest.mark.parametrize("name", CHANGED)
def test_both_agree_after_a_change(
    name: str, cases: dict[str, Case], office: dict[str, Values]
) -> None:
    changed = cases[name]
    assert differences(office[name], by_formulas(changed.wrong)) == []
    # and something did change
    assert differences(cached(changed.data), office[name]) != []


def test_wrong_values_are_wrong(cases: dict[str, Case]) -> None:
    # the tests above are only as good as this
    each = cases["plain"]
    assert len(differences(cached(each.data), cached(each.wrong))) > 300


def costs(values: Values, each: Case, name: str) -> list[float]:
    return [value_of(values, each.book, row[name]) for row in each.found.model.limits]


def test_a_change_gives_what_the_program_would(
    cases: dict[str, Case], office: dict[str, Values]
) -> None:
    # independent: the program on the changed scenario, which is exact where nothing is sampled
    each, values = cases["plain_changed"], office["plain_changed"]
    raw = plain_job()
    raw["rates"]["rig"] = 33_333.0
    first = raw["run"][0]
    first["charge"] = 12_345.0
    move(first["odds"]["workable"], recovered=0.2)
    raw["common"]["hours"] = 7
    program = answered(raw)
    assert costs(values, each, "expected_cost") == pytest.approx(
        [limit.expected_cost for limit in program.by_runs], abs=CENT
    )
    assert costs(values, each, "recovered_share") == pytest.approx(
        [limit.probability_recovered for limit in program.by_runs], abs=1e-9
    )
    assert costs(values, each, "days") == pytest.approx(
        [limit.days for limit in program.by_runs], abs=1e-9
    )
    stage = each.found.stages
    limit = program.by_runs[1]  # what was asked for is now one run
    total = value_of(values, each.book, stage["expected_cost"])
    assert total == pytest.approx(limit.expected_cost, abs=CENT)
    lines = [value_of(values, each.book, share.value) for share in each.found.split.shares]
    assert sum(lines) == pytest.approx(limit.expected_cost, abs=CENT)
    nets = each.found.shares
    for column, gross in enumerate(nets.gross):
        parts = [value_of(values, each.book, one.nets[column]) for one in nets.partners]
        if parts:
            assert sum(parts) == pytest.approx(value_of(values, each.book, gross), abs=1e-6)
    said = [value_of(values, each.book, item.cell) for item in each.found.checks]
    assert any(str(words).startswith("CHANGED") for words in said)


def test_a_change_of_scenario_a_gives_the_tree(
    cases: dict[str, Case], office: dict[str, Values]
) -> None:
    # independent: the outcome tree of the changed scenario, with parts and damaged tops. The file
    # carries the sampling of the program as a factor, so the formulas are held before it.
    each, values = cases["a_changed"], office["a_changed"]
    tree = outcome_tree.by_runs(for_tree(changed_scenario_a()))
    fishing = costs(values, each, "fishing_formula")
    fallback = costs(values, each, "fallback_formula")
    found = [a + b for a, b in zip(fishing, fallback, strict=True)]
    assert found == pytest.approx([one.expected_cost for one in tree], abs=CENT)
    for cost, formula, limit in zip(
        costs(values, each, "expected_cost"), found, each.found.answer.by_runs, strict=True
    ):
        error = limit.standard_error / limit.expected_cost
        assert cost == pytest.approx(formula, rel=5 * error, abs=CENT)
    interests = [value_of(values, each.book, p.interest) for p in each.found.shares.partners]
    assert interests == [0.5, 0.375, 0.125]
    column = list(each.found.shares.words).index("Revised total")
    nets = [value_of(values, each.book, p.nets[column]) for p in each.found.shares.partners]
    gross = value_of(values, each.book, each.found.shares.gross[column])
    assert nets == pytest.approx([0.5 * gross, 0.375 * gross, 0.125 * gross], abs=0.011)
    assert sum(nets) == pytest.approx(gross, abs=1e-6)


def test_contingency_of_the_manual(cases: dict[str, Case], office: dict[str, Values]) -> None:
    # published: 79,063 a day; 25 % x 2 d, 25 % x 5 d, 25 % x (3 d + 50,000)
    each, values = cases["risks"], office["risks"]
    expected = [value_of(values, each.book, risk.expected) for risk in each.found.risks]
    assert expected == pytest.approx([39_531.5, 98_828.75, 71_797.25, 0.0], abs=1e-6)
    further = value_of(values, each.book, each.found.costs.lines[-1].amounts["trouble"])
    assert further == pytest.approx(39_531.5 + 98_828.75 + 71_797.25, abs=1e-6)
    assert value_of(values, each.book, each.found.risks[3].words) == "=1+1"


def test_a_range_moves_in_proportion(tmp_path: Path) -> None:
    # independent: the program on the changed scenario; a rule of proportion, so within a percent
    raw = random_job(101, ranges=True) | {"draws": {**FEW, "n": 64}}
    raw["rates"]["rig"] = {"low": 30_000, "high": 50_000}
    each = of(raw)
    changed = each.changed({each.found.given.rates[0].cell: 60_000.0})
    values = by_libreoffice({"ranges": changed.wrong}, tmp_path)["ranges"]
    other = copy.deepcopy(raw)
    other["rates"]["rig"] = {"low": 45_000, "high": 75_000}
    for cost, limit in zip(
        costs(values, changed, "expected_cost"), answered(other).by_runs, strict=True
    ):
        assert cost == pytest.approx(limit.expected_cost, rel=0.01)


def test_interests_that_do_not_sum_are_called_out(tmp_path: Path) -> None:
    # independent: by hand
    each = of(scenario_a())
    partners = each.found.shares.partners
    wrong = each.changed({partners[0].interest: 0.7})
    values = by_libreoffice({"interests": wrong.wrong}, tmp_path)["interests"]
    said = value_of(values, each.book, each.found.checks[3].cell)
    assert said == "INTERESTS DO NOT SUM TO 100 %"
    assert {value_of(values, each.book, p.nets[0]) for p in partners} == {"-"}


def test_the_demo_of_scenario_a_has_three_partners() -> None:
    # independent: the changes above lean on it
    assert [each["interest"] for each in scenario_a()["partner"]] == [0.625, 0.25, 0.125]
    assert read(SCENARIO_A)["rates"] == {"rig": 53_000}
