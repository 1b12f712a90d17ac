"""Every formula of the supplement recomputed by two others, from values that are wrong on purpose.

Origins of the expected numbers:
    independent   the formulas library and LibreOffice recompute the sheets; by hand, quantity x
                  price; the program answers the changed scenario
    published     S. Devereux, Practical Well Planning and Drilling Manual, sec. 2.1.5
"""

from __future__ import annotations

import copy
from dataclasses import dataclass

import pytest
from raw_jobs import Table
from supplement_jobs import answered, checked, random_job, scenario_a
from supplement_recompute import (
    Values,
    by_formulas,
    by_libreoffice,
    cached,
    differences,
    value_of,
    with_inputs,
    with_wrong_values,
)
from test_supplement_lines import JOBS, every_feature, kept

from econ.decision import Answer, answer
from econ.reports.supplement import Supplement, supplement
from econ.reports.supplement.book import Book
from econ.reports.supplement.cells import Cell
from econ.reports.supplement.estimate import Line
from econ.reports.supplement.workbook import book

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
CENT = 0.01
Changes = dict[Cell, float | str]
AT_REST = [
    *("a", "b", "c", "d", "a after two runs", "d after three runs", "every feature"),
    *("recovered", "string_lost", "random 1", "ranges 21"),
]
BY_LIBRARY = ["d", "every feature"]  # the library takes seconds a workbook


@dataclass
class Case:
    """A supplement, its layout, and the file with wrong values and some inputs changed."""

    found: Supplement
    book: Book
    data: bytes
    wrong: bytes

    def changed(self, changes: Changes) -> Case:
        wrong = with_inputs(with_wrong_values(self.data), self.book, changes)
        return Case(self.found, self.book, self.data, wrong)

    def price(self, words: str, part: str = "") -> Cell:
        """The input cell of a price."""
        prices = self.found.estimate.prices
        (cell,) = [
            one.cell
            for one in prices
            if one.words.startswith(words) and one.part.startswith(part) and one.cell.is_input
        ]
        return cell

    def line(self, code: str, words: str = "") -> Line:
        """The first line of a code whose description begins so."""
        lines = self.found.estimate.lines
        return next(one for one in lines if one.code.value == code and words in one.words)


def case(answer: Answer) -> Case:
    found = supplement(answer)
    laid = book(found)
    data = laid.bytes()
    return Case(found, laid, data, with_wrong_values(data))


def single() -> Table:
    """Single numbers, one fallback, nothing sampled, a run that is worth making."""
    raw = random_job(8, plain=True)
    raw["fallback"] = [{**kept("woc"), "directional_day": 9_000.0, "plug_cost": 30_000.0}]
    raw["common"] = {"hours": 12, "cost": 7_000}
    raw["run"][0]["odds"] = {
        kind: {"recovered": p, "nothing": 0.95 - p, "string_lost": 0.03, "hole_lost": 0.02}
        for kind, p in (("workable", 0.8), ("stubborn", 0.2))
    }
    raw["partner"] = [{"name": "P", "interest": 0.6}, {"name": "Q", "interest": 0.4}]
    return raw


# Prices that are changed one by one, and where they stand in the scenario.
EDITS = {
    "rig": (("rig", "Every branch"), ("rates", "rig"), 41_234.0),
    "hands": (("hands", "Fishing"), ("fishing", "day_rates", "hands"), 7_777.0),
    "charge": (("1. run 1", "Charge"), ("run", 0, "charge"), 12_345.0),
    "mobilization": (("Mobilization", "Fishing"), ("fishing", "mobilization"), 3_210.0),
    "plug": (("Materials and pumping", ""), ("fallback", 0, "plug_cost"), 44_000.0),
    "directional": (("Directional services", ""), ("fallback", 0, "directional_day"), 12_500.0),
    "first": (("Owed first", ""), ("common", "cost"), 9_999.0),
}


def edited(raw: Table, path: tuple[str | int, ...], value: float) -> Table:
    made = copy.deepcopy(raw)
    place = made
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    return made


@pytest.fixture(scope="module")
def cases() -> dict[str, Case]:
    books = {name: case(JOBS[name]()) for name in AT_REST}
    plain, wide = case(answered(single())), case(answered(every_feature()))
    books["single"] = plain
    for name, ((words, part), _, value) in EDITS.items():
        books[name] = plain.changed({plain.price(words, part): value})
    days = plain.line("FS10")
    assert days.expected is not None
    assert days.planned is not None
    first, second = plain.found.shares.partners
    risks = plain.found.risks
    books["days"] = plain.changed(
        {days.expected.quantity: 2.5, days.planned.quantity: 4.0, plain.price("rig"): 50_000.0}
    )
    books["interests"] = plain.changed({first.interest: 0.7})
    books["other interests"] = plain.changed({first.interest: 0.25, second.interest: 0.75})
    books["negative"] = plain.changed({plain.price("rig"): -5.0})
    books["range"] = wide.changed({wide.price("rig"): 33_333.0, wide.price("1. run 1"): 8_000.0})
    books["risks"] = plain.changed(
        {
            plain.price("rig"): 79_063.0,
            plain.price("fuel"): 0.0,
            **dict.fromkeys((risk.chance for risk in risks), 0.25),
            risks[0].days: 2.0,
            risks[1].days: 5.0,
            risks[2].days: 3.0,
            risks[2].charge: 50_000.0,
            risks[3].words: "=1+1",
        }
    )
    return books


@pytest.fixture(scope="module")
def office(cases: dict[str, Case], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Values]:
    files = {name.replace(" ", "_"): one.wrong for name, one in cases.items()}
    found = by_libreoffice(files, tmp_path_factory.mktemp("office"))
    return {name: found[name.replace(" ", "_")] for name in cases}


def amount(values: Values, one: Case, line: Line) -> float:
    assert line.expected is not None
    return float(value_of(values, one.book, line.expected.amount))


@pytest.mark.parametrize("name", [*AT_REST, "single"])
def test_libreoffice_finds_the_values_that_were_written(
    name: str, cases: dict[str, Case], office: dict[str, Values]
) -> None:
    one, values = cases[name], office[name]
    assert differences(cached(one.data), values) == []
    # and they are the program's
    stage, authority = one.found.stages, one.found.answer.authority
    for key, expected in (
        ("planned", authority.stage_1.planned),
        ("mean", authority.stage_1.mean),
        ("spending", authority.stage_2.mean),
    ):
        assert value_of(values, one.book, stage[key]) == pytest.approx(expected, abs=CENT)


@pytest.mark.parametrize("name", BY_LIBRARY)
def test_the_formulas_library_finds_the_values_that_were_written(
    name: str, cases: dict[str, Case]
) -> None:
    assert differences(cached(cases[name].data), by_formulas(cases[name].wrong)) == []


@pytest.mark.parametrize("name", ["rig", "range"])
def test_both_agree_after_a_change(
    name: str, cases: dict[str, Case], office: dict[str, Values]
) -> None:
    changed = cases[name]
    assert differences(office[name], by_formulas(changed.wrong)) == []
    assert differences(cached(changed.data), office[name]) != []


def test_wrong_values_are_wrong(cases: dict[str, Case]) -> None:
    # the tests above are only as good as this
    one = cases["single"]
    assert len(differences(cached(one.data), cached(one.wrong))) > 150


@pytest.mark.parametrize("name", EDITS)
def test_a_price_gives_what_the_program_would(
    name: str, cases: dict[str, Case], office: dict[str, Values]
) -> None:
    # independent: the program on the changed scenario, at the same limit
    one, values = cases[name], office[name]
    _, path, value = EDITS[name]
    program = answer(checked(edited(single(), path, value)))
    assert program.best == one.found.answer.best > 0
    stage = one.found.stages
    for key, expected in (
        ("planned", program.authority.stage_1.planned),
        ("mean", program.authority.stage_1.mean),
        ("spending", program.authority.stage_2.mean),
        ("expected_call", program.limit.expected_cost),
    ):
        assert value_of(values, one.book, stage[key]) == pytest.approx(expected, abs=CENT), key
    waiting = {item.words: item.cell for item in one.found.header}[
        "Spread while a vote is waited for"
    ]
    assert value_of(values, one.book, waiting) == pytest.approx(
        program.authority.waiting_cost, abs=CENT
    )
    told = value_of(values, one.book, one.found.checks[0].cell)
    assert str(told).startswith("CHANGED")


def test_days_times_price(cases: dict[str, Case], office: dict[str, Values]) -> None:
    # independent: by hand; the days of fishing are those of the services too
    one, values = cases["days"], office["days"]
    raw = single()
    spread = 50_000.0 + raw["rates"]["fuel"]
    hands = raw["fishing"]["day_rates"]["hands"]
    rig, services = one.line("FS10"), one.line("FS20")
    assert amount(values, one, rig) == pytest.approx(2.5 * spread, abs=CENT)
    assert amount(values, one, services) == pytest.approx(2.5 * hands, abs=CENT)
    assert rig.planned is not None
    assert value_of(values, one.book, rig.planned.amount) == pytest.approx(4 * spread, abs=CENT)
    lines = [value_of(values, one.book, expected) for _, expected in one.found.estimate.amounts]
    call = value_of(values, one.book, one.found.stages["expected_call"])
    assert sum(value for value in lines if value != "") == pytest.approx(call, abs=CENT)
    shared = one.found.shares
    for column, gross in enumerate(shared.gross):
        nets = [value_of(values, one.book, partner.nets[column]) for partner in shared.partners]
        assert sum(nets) == pytest.approx(value_of(values, one.book, gross), abs=1e-6)


def test_a_changed_range_is_taken_as_typed(
    cases: dict[str, Case], office: dict[str, Values]
) -> None:
    # independent: by hand; once a price is changed the line is quantity x that price
    one, values = cases["range"], office["range"]
    rates = [price.cell for price in one.found.estimate.prices if price.unit == "a day"]
    spread = 33_333.0 + rates[1].number
    rig = one.line("FS10")
    assert rig.expected is not None
    assert rig.expected.price.number != rig.stated.number  # a range, before the change
    by_hand = rig.expected.quantity.number * spread
    assert amount(values, one, rig) == pytest.approx(by_hand, abs=CENT)
    charge = one.line("FS40", "run 1")
    assert charge.expected is not None
    assert amount(values, one, charge) == pytest.approx(
        charge.expected.quantity.number * 8_000, abs=CENT
    )


def test_contingency_of_the_manual(cases: dict[str, Case], office: dict[str, Values]) -> None:
    # published: 79,063 a day; 25 % x 2 d, 25 % x 5 d, 25 % x (3 d + 50,000)
    one, values = cases["risks"], office["risks"]
    expected = [value_of(values, one.book, risk.expected) for risk in one.found.risks]
    assert expected == pytest.approx([39_531.5, 98_828.75, 71_797.25, 0.0], abs=1e-6)
    further = value_of(values, one.book, one.found.costs.lines[-1].amounts["trouble"])
    assert further == pytest.approx(39_531.5 + 98_828.75 + 71_797.25, abs=1e-6)
    assert value_of(values, one.book, one.found.risks[3].words) == "=1+1"


def test_interests(cases: dict[str, Case], office: dict[str, Values]) -> None:
    # independent: by hand
    one, values = cases["interests"], office["interests"]
    checks = {item.words: item.cell for item in one.found.checks}
    said = value_of(values, one.book, checks["Working interests"])
    assert said == "INTERESTS DO NOT SUM TO 100 %"
    partners = one.found.shares.partners
    assert {value_of(values, one.book, partner.nets[0]) for partner in partners} == {"-"}
    values = office["other interests"]
    gross = value_of(values, one.book, one.found.shares.gross[0])
    nets = [value_of(values, one.book, partner.nets[0]) for partner in partners]
    assert nets == pytest.approx([0.25 * gross, 0.75 * gross], abs=0.011)
    assert sum(nets) == pytest.approx(gross, abs=1e-6)


def test_a_price_below_0_is_called_out(cases: dict[str, Case], office: dict[str, Values]) -> None:
    # independent: by hand
    one, values = cases["negative"], office["negative"]
    checks = {item.words: item.cell for item in one.found.checks}
    assert value_of(values, one.book, checks["Prices and days"]) == "ONE IS BELOW 0"
    assert value_of(office["single"], one.book, checks["Prices and days"]) == "none is below 0"


def test_scenario_a_by_its_interests() -> None:
    # independent: 62.5, 25 and 12.5 % of the ask, by hand
    found = supplement(answered(scenario_a()))
    gross = found.shares.gross[0].number
    nets = [partner.nets[0].number for partner in found.shares.partners]
    assert nets == pytest.approx([0.625 * gross, 0.25 * gross, 0.125 * gross], abs=0.011)
