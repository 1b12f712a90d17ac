"""Every formula of the supplement recomputed by two others, from values that are wrong on purpose.

Origins of the expected numbers:
    independent   the formulas library and LibreOffice recompute the sheets; `decision.hold` gives
                  what the program makes of a changed price under the issue; by hand
    published     S. Devereux, Practical Well Planning and Drilling Manual, sec. 2.1.5

The long run, with every price of the demos and of random jobs, is tests/benchmarks/supplement.py.
"""

from __future__ import annotations

import random
from typing import Any

import pytest
from raw_jobs import Table
from supplement_edits import Edit, Issue, edits, gaps
from supplement_jobs import answered, everything
from supplement_recompute import Values, by_formulas, by_libreoffice, cached, differences, value_of
from test_supplement_lines import JOBS, by_hand

from econ.reports.supplement.cells import Cell

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
DEAR = 16_000.0  # of a day on standby
AT_REST = ["d after three runs", "recovered", "string_lost", "random 1"]
BAD: dict[str, tuple[Any, str]] = {  # by check: what is typed, and what is said of it
    "price of rates.rig": (-5.0, "price of rates.rig is under 0"),
    "price of run.1.charge": ("some", "price of run.1.charge is no number"),
    "price of recovery.charge": (None, "price of recovery.charge is blank"),
    "limit in runs": (1.5, "limit in runs is not whole"),
    "spent of RT10": (-1.0, "spent of RT10 is under 0"),
    "kind of RT10": ("durable", "kind of RT10 is an unknown word"),
    "chance of contingency 1": (1.2, "chance of contingency 1 is over 1"),
    "days of contingency 2": ("two", "days of contingency 2 is no number"),
    "trigger basis": ("both", "trigger basis is an unknown word"),
    "trigger percent": (None, "trigger percent is blank"),
    "hours to reply": (-1.0, "hours to reply is under 0"),
    "price contingency": (7.0, "price contingency is over 1"),
    "interest of Other": (0.5, "the interests do not sum to 100 %"),
    "committed of RT10": (9e6, "committed of RT10 is over what is to come"),
}


def everywhere_raw() -> Table:
    """Every feature, ranges that move together, and a limit that may be 1."""
    raw = everything(21)
    raw["limits"] = {"minimum_runs": 1}
    raw["correlation"] = [{"of": ["rates.rig", "rates.fuel"], "rho": 0.6}]
    raw["rates"]["rig"] = {"low": 30_000, "high": 50_000}
    raw["rates"]["fuel"] = {"low": 2_000, "high": 9_000}
    raw["run"][0]["options"] = ["jars"]  # and stands by while the others are made
    raw["rental"][0]["options"] = ["jars"]
    return raw


@pytest.fixture(scope="module")
def issues() -> dict[str, Issue]:
    made = {name: Issue.of(JOBS[name]()) for name in AT_REST}
    made["by hand"] = Issue.of(answered(by_hand()))
    made["every"] = Issue.of(answered(everywhere_raw()))
    return made


@pytest.fixture(scope="module")
def tried(issues: dict[str, Issue]) -> dict[str, tuple[str, Edit]]:
    """Edits: some prices alone, all at once, pairs, another limit."""
    dice = random.Random(3)
    every = issues["every"]
    found = list(edits(every, dice, pairs=2))
    alone = [each for each in found if each[0].startswith("alone")]
    chosen = dice.sample(alone, 4) + [each for each in found if not each[0].startswith("alone")]
    made = {name: ("every", edit) for name, edit in chosen}
    made["limit"] = ("every", Edit({}, limit=1))
    prices = issues["by hand"].found.estimate.prices
    made["by hand"] = ("by hand", Edit({price.key: price.cell.number + 7.0 for price in prices}))
    return made


def typed(issue: Issue, changes: dict[str, Any]) -> dict[Cell, Any]:
    cells = {cell.bounds.name: cell for cell in issue.book.home if cell.bounds is not None}
    return {cells[name]: value for name, value in changes.items()}


@pytest.fixture(scope="module")
def office(
    issues: dict[str, Issue],
    tried: dict[str, tuple[str, Edit]],
    tmp_path_factory: pytest.TempPathFactory,
) -> dict[str, Values]:
    """All of them, recalculated in one call."""
    files = {f"rest {name}": issue.typed({}) for name, issue in issues.items()}
    for name, (job, edit) in tried.items():
        files[f"edit {name}"] = issues[job].typed(edit.cells(issues[job]))
    own = issues["by hand"]
    files["bad all"] = own.typed(typed(own, {name: value for name, (value, _) in BAD.items()}))
    risks = own.found.risks
    files["risks"] = own.typed(
        {
            typed(own, {"price of rates.rig": 79_063.0}).popitem()[0]: 79_063.0,
            own.found.price_contingency: 0.0,
            **dict.fromkeys((risk.chance for risk in risks), 0.25),
            risks[0].days: 2.0,
            risks[1].days: 5.0,
            risks[2].days: 3.0,
            risks[2].charge: 50_000.0,
            risks[3].words: "=1+1",
        }
    )
    first, second = own.found.shares.partners
    files["shared"] = own.typed({first.interest: 0.25, second.interest: 0.75})
    every = issues["every"]
    dear = Edit({("rental", 0, "standby_day"): DEAR})
    files["dear"] = every.typed(dear.cells(every))
    names = {f"book_{number}": name for number, name in enumerate(files)}
    found = by_libreoffice(
        {short: files[name] for short, name in names.items()}, tmp_path_factory.mktemp("office")
    )
    return {names[short]: values for short, values in found.items()}


@pytest.mark.parametrize("name", [*AT_REST, "by hand", "every"])
def test_libreoffice_finds_the_values_that_were_written(
    name: str, issues: dict[str, Issue], office: dict[str, Values]
) -> None:
    assert differences(cached(issues[name].data), office[f"rest {name}"]) == []
    assert gaps(issues[name], Edit({}), office[f"rest {name}"]) == []


def test_the_formulas_library_finds_the_same(
    issues: dict[str, Issue], tried: dict[str, tuple[str, Edit]], office: dict[str, Values]
) -> None:
    one = issues["by hand"]
    _, edit = tried["by hand"]
    found = by_formulas(one.typed(edit.cells(one)))
    assert differences(office["edit by hand"], found) == []
    assert gaps(one, edit, found) == []
    assert differences(cached(one.data), found) != []


def test_wrong_values_are_wrong(issues: dict[str, Issue]) -> None:
    # the tests above are only as good as this
    one = issues["by hand"]
    assert len(differences(cached(one.data), cached(one.typed({})))) > 150


def test_an_edited_sheet_is_what_the_program_holds(
    issues: dict[str, Issue], tried: dict[str, tuple[str, Edit]], office: dict[str, Values]
) -> None:
    # independent: the ledger of the changed scenario under the decision of the issue
    assert len(tried) == 9
    for name, (job, edit) in tried.items():
        assert gaps(issues[job], edit, office[f"edit {name}"]) == [], name
        changed = value_of(office[f"edit {name}"], issues[job].book, issues[job].found.changed)
        assert changed.startswith("CHANGED"), name


def test_another_limit_says_which_is_cheaper(
    issues: dict[str, Issue], office: dict[str, Values]
) -> None:
    one = issues["every"]
    best = one.found.answer.best
    said = str(value_of(office["edit limit"], one.book, one.found.ask.cheapest))
    costs = [limit.expected_cost for limit in one.found.answer.by_runs]
    if best == 1:
        assert said == "yes, at these prices"
    else:
        assert said.startswith(f"NO: at most {best} runs cost {costs[1] - costs[best]:,.0f} less")


def test_every_bad_cell_is_named(issues: dict[str, Issue], office: dict[str, Values]) -> None:
    one, values = issues["by hand"], office["bad all"]
    line = str(value_of(values, one.book, one.found.checks.line))
    for _, said in BAD.values():
        assert said in line
    faults = [value_of(values, one.book, row.fault) for row in one.found.checks.rows]
    assert sum(fault != "" for fault in faults) == len(BAD)
    assert str(values["Supplement", "A2"]).startswith("Do not sign: BAD: ")
    # and at rest none is
    assert str(office["rest by hand"]["Supplement", "A2"]).startswith("You are asked to approve")


def test_contingency_of_the_manual(issues: dict[str, Issue], office: dict[str, Values]) -> None:
    # published: 79,063 a day; 25 % x 2 d, 25 % x 5 d, 25 % x (3 d + 50,000)
    one, values = issues["by hand"], office["risks"]
    expected = [value_of(values, one.book, risk.expected) for risk in one.found.risks]
    assert expected == pytest.approx([39_531.5, 98_828.75, 71_797.25, 0.0], abs=1e-6)
    whole = 39_531.5 + 98_828.75 + 71_797.25
    assert value_of(values, one.book, one.found.by_hand) == pytest.approx(whole, abs=1e-6)
    asked = value_of(values, one.book, one.found.ask.granted.contingency)
    assert asked in (210_157, 210_158)  # in whole units
    assert value_of(values, one.book, one.found.risks[3].words) == "=1+1"


def test_interests_are_shared(issues: dict[str, Issue], office: dict[str, Values]) -> None:
    # by hand
    one, values = issues["by hand"], office["shared"]
    gross = value_of(values, one.book, one.found.shares.gross["asked"])
    nets = [
        value_of(values, one.book, partner.nets["asked"]) for partner in one.found.shares.partners
    ]
    assert nets == pytest.approx([0.25 * gross, 0.75 * gross], abs=0.011)
    assert sum(nets) == pytest.approx(gross, abs=1e-6)


def test_a_rental_that_leaves_its_terms_says_at_least(
    issues: dict[str, Issue], office: dict[str, Values]
) -> None:
    # independent: the answer with standby at another rate, where a maximum is over its tangent
    one, values = issues["every"], office["dear"]
    (jars,) = one.found.estimate.ratios  # the other tool stands by at no rate
    assert str(value_of(values, one.book, jars.words)).startswith("AT LEAST")
    assert str(value_of(office["rest every"], one.book, jars.words)).startswith("follows exactly")
    raw = everywhere_raw()
    raw["rental"][0]["standby_day"] = DEAR
    there = answered(raw).calls[one.found.answer.best]
    tangent = value_of(values, one.book, one.found.ask.expected_call)
    at_rest = one.found.answer.authority.call.expected_call
    assert at_rest - 1e-6 <= tangent < there.expected_call - 1_000
