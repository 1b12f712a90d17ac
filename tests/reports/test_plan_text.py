"""The plan in words and as a picture.

Origins of the expected numbers: the plan of scenario A is published, and so are its list and its
cheapest fixed sequence. What is said of plans made by hand here is worked out from their numbers.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from figure_jobs import program, raws, renamed
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Rectangle
from raw_jobs import Table, scenario
from test_figures import overlaps, words_of

import econ
from econ.decision.estimates import Estimate
from econ.decision.order import ProgramSearch
from econ.decision.plan import Belief, NextBest, Plan, PlanNode
from econ.reports.figures.output import pdf
from econ.reports.figures.plan import MOST_LEAVES, plan_figure
from econ.reports.plan_tables import (
    gain_over_sequence,
    left_out,
    orders,
    plan_document,
    readable,
)
from econ.reports.plan_text import plan_text

ROOT = Path(__file__).parents[2]
CHECK_A = ROOT / "tests" / "data" / "scenario_a_check.toml"
DEMO_B = ROOT / "scenarios" / "point" / "b_offshore_sealed_sources.toml"
DEMO_C = ROOT / "scenarios" / "c_bit_cones.toml"


@cache
def made(path: Path) -> tuple[Plan, ProgramSearch]:
    """Plan and cheapest sequence of a job, from draws enough for the figures that are printed."""
    job = econ.load(path, ["draws.n=1024"])
    return econ.plan(job), econ.best_order(job)


@cache
def drawn(name: str) -> Plan:
    """The plan of one of the jobs that strain a figure."""
    return econ.plan(scenario(raws()[name], n=16, scrambles=16))


def said(found: Plan, search: ProgramSearch) -> str:
    return " ".join(plan_text(found, search).split())


def order(number: int, text: str) -> str:
    """The paragraph of an order, on one line."""
    (paragraph,) = [part for part in text.split("\n\n") if part.startswith(f"{number}. ")]
    return " ".join(paragraph.split())


# ---- scenario A -------------------------------------------------------------------------------


def test_the_orders_of_scenario_a_are_the_published_ones() -> None:
    text = plan_text(*made(CHECK_A))
    assert text.startswith("PLAN: make run 1 now, 1 Overshot with jars.\n")
    now = order(1, text)
    assert "After nothing (37 %, order 2) or a part (6 %, order 3): run 3." in now
    assert "After a damaged top (7 %, order 4): run 2." in now
    assert "make run 3, 3 Overshot with wall hook / bent joint" in order(2, text)
    assert "After nothing (22 %): stop." in order(2, text)
    assert "After nothing (3 %, order 7) or a part (0.3 %, order 8): run 2." in order(3, text)
    assert "After nothing (4 %, order 9)" in order(4, text)
    assert "make run 3" in order(9, text)


def test_the_plan_of_scenario_a_is_set_against_list_and_sequence() -> None:
    # Source: published costs 484,760 (plan), 499,510 (list), 489,570 (run 1, run 3, then stop).
    words = said(*made(CHECK_A))
    assert "The expected cost is 484.8 thousand USD" in words
    assert "saves 14.7 thousand USD against the best limit of the list (3 runs)" in words
    assert "saves 4.8 thousand USD against the cheapest fixed sequence (runs 1, 3," in words
    assert "No state of the plan uses runs 4 and 5 of the list." in words
    gain = gain_over_sequence(*made(CHECK_A))
    assert (gain.value, gain.error) == (pytest.approx(489_570 - 484_760, abs=1), 0.0)


def test_the_states_and_what_is_folded_are_told() -> None:
    found, search = made(CHECK_A)
    assert f"{found.states:,} states were looked at: all" in said(found, search)
    assert f"Folded: {found.folded} branches of less than 0.2 %" in said(found, search)
    less = replace(found, gap=2_345.0)
    assert "To look at all of them would save no more than 2.3 thousand" in said(less, search)


def test_lines_fit_and_are_plain() -> None:
    for path in (CHECK_A, DEMO_B, DEMO_C):
        lines = plan_text(*made(path)).splitlines()
        assert max(map(len, lines)) <= 72
        assert all(line.isascii() and line == line.rstrip() for line in lines)


def test_a_plan_that_is_the_list_is_no_better() -> None:
    # Source: the search of all orders of demo C, whose best is the list itself.
    found, search = made(DEMO_C)
    assert search.best.runs == search.listed.runs
    words = said(found, search)
    assert "The plan is no better than the best limit of the list (3 runs)" in words
    assert "The plan costs about as much as the cheapest fixed sequence (runs 1, 2, 3" in words
    assert "saves" not in words


def test_a_plan_that_costs_more_is_not_followed() -> None:
    found, search = made(CHECK_A)
    words = said(replace(found, gain=Estimate(-5_000.0, 100.0)), search)
    assert "The plan costs 5.0 thousand USD (+-0.1) more than the best limit" in words
    assert "keep to the list" in words


def test_a_gain_within_its_error_is_none() -> None:
    found, search = made(CHECK_A)
    words = said(replace(found, gain=Estimate(5_000.0, 2_600.0)), search)
    assert "The plan is no better than the best limit of the list" in words


def test_cautions_and_a_sealed_source_go_with_it() -> None:
    assert "Odds are judgement." in said(*made(CHECK_A))
    assert "sealed source is in the fish" not in said(*made(CHECK_A))
    words = said(*made(DEMO_B))
    assert "A sealed source is in the fish. Rules of" in words
    assert words.index("SEALED RADIOACTIVE SOURCE IN THE FISH") < words.index("ORDERS")


# ---- plans made by hand -----------------------------------------------------------------------


def node(number: int, parent: int | None, after: str | None, do: int | str, chance: float) -> Table:
    return {
        "id": number,
        "parent": parent,
        "after": after,
        "do": do,
        "chance": Estimate(chance, 0.0),
        "belief": (Belief("workable", Estimate(chance, 0.0)),),
        "odds": None if do == "stop" else Estimate(0.4, 0.0),
        "fish_top": 11_180.0,
        "marks": (),
        "day": 0.0 if parent is None else 1.5,
        "cost_from_here": Estimate(500_000.0, 0.0),
        "next_best": None,
    }


def by_hand(*rows: Table, **more: object) -> Plan:
    found, _ = made(CHECK_A)
    return replace(found, nodes=tuple(PlanNode(**row) for row in rows), **more)  # type: ignore[arg-type]


def test_outcomes_with_the_same_order_to_the_end_are_one_order() -> None:
    found = by_hand(
        node(0, None, None, 1, 1.0),
        node(1, 0, "nothing", 3, 0.3),
        node(2, 0, "part", 3, 0.2),
        node(3, 0, "top_damaged", 3, 0.1),
        node(4, 1, "nothing", "stop", 0.15),
        node(5, 2, "nothing", "stop", 0.12),
        node(6, 3, "nothing", 2, 0.06),
    )
    first = orders(found, below=0.0)
    same, other = first.children
    assert (same.do, same.outcomes, same.chance) == (3, ("nothing", "part"), pytest.approx(0.5))
    assert (other.do, other.outcomes) == (3, ("top_damaged",))
    assert [child.outcomes for child in same.children] == [("nothing",)]
    text = plan_text(found, made(CHECK_A)[1])
    assert (
        "After nothing or a part (50 %, order 2) or a damaged top (10 %, order 3): run 3."
        in order(1, text)
    )
    assert "Belief: workable 0.20 to 0.30." in order(2, text)
    assert "After nothing (27 %): stop. Belief: workable 0.12 to 0.15." in order(2, text)


def test_what_is_below_a_chance_is_folded_and_counted() -> None:
    found = by_hand(
        node(0, None, None, 1, 1.0),
        node(1, 0, "nothing", "stop", 0.3),
        node(2, 0, "part", 2, 0.004),
        node(3, 2, "nothing", "stop", 0.003),
        folded=5,
    )
    assert [child.do for child in orders(found, below=0.005).children] == ["stop"]
    assert left_out(found, below=0.005) == 5 + 2
    assert left_out(found, below=found.folded_below) == 5


def test_a_plan_of_many_states_is_folded_further_for_a_reader() -> None:
    # by hand: 0.9^39 = 0.0164 and 0.9^40 = 0.0148, so 40 orders have a chance of 1.5 % and more,
    # and 0.9^43 = 0.0108, so 44 have one of 1 %.
    rows = [node(0, None, None, 1, 1.0)]
    rows += [node(k, k - 1, "nothing", 1, 0.9**k) for k in range(1, 61)]
    found = by_hand(*rows, folded=0)
    first, below = readable(found, most=40)
    assert (below, sum(1 for _ in first.all())) == (0.015, 40)
    assert "Folded: 21 branches of less than 1.5 % chance each." in said(found, made(CHECK_A)[1])


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (Estimate(7_000.0, 100.0), "Run 2 would cost 7.0 more."),
        (Estimate(7_000.0, 4_000.0), "Run 2 is about equal."),
        (Estimate(1.0, 0.0), "Run 2 is about equal."),
        (Estimate(-7_000.0, 100.0), "Run 2 would cost 7.0 less on these draws."),
    ],
)
def test_a_difference_is_told_if_it_is_beyond_its_error(more: Estimate, words: str) -> None:
    row = node(0, None, None, 1, 1.0) | {"next_best": NextBest(2, more)}
    assert words in order(1, plan_text(by_hand(row), made(CHECK_A)[1]))


def test_stopping_now_names_the_fallback() -> None:
    row = node(0, None, None, "stop", 1.0) | {"next_best": NextBest(2, Estimate(9_000.0, 1.0))}
    found = by_hand(row, gain=Estimate(0.0, 0.0), limit=0)
    text = plan_text(found, made(CHECK_A)[1])
    assert text.startswith("PLAN: stop fishing now.\n")
    assert "Stop fishing and go to the fallback, Open-hole sidetrack." in " ".join(text.split())
    assert "Run 2 would cost 9.0 more." in " ".join(text.split())
    assert "ORDERS" not in text


def test_where_the_state_is_not_that_of_now_it_is_told() -> None:
    moved = {"fish_top": 11_240.0, "marks": ("damaged_top", "washed")}
    rows = [node(0, None, None, 1, 1.0), node(1, 0, "part", 2, 0.3) | moved]
    text = plan_text(by_hand(*rows), made(CHECK_A)[1])
    assert "The fish top" not in order(1, text)
    assert "The fish top is at 11,240 ft. Marks: damaged top, washed." in order(2, text)
    assert "It begins 1.5 days from now." in order(2, text)


def test_lengths_are_in_the_units_of_the_file() -> None:
    # by hand: demo A in metres has its fish top at 11,180 m as the file says, whatever the engine
    found = drawn("metric")
    search = econ.best_order(found.scenario)
    assert found.scenario.units == "metric"
    (first, *_) = plan_document(found, search)["plan"]["nodes"]
    assert first["fish_top"] == pytest.approx(raws()["metric"]["fish"]["top"])


# ---- the picture ------------------------------------------------------------------------------


def twelve(names: tuple[str, ...] = ()) -> Table:
    """Twelve short runs that come one after the other."""
    raw = program(12)
    for place, run in enumerate(raw["run"]):
        run.pop("trips", None)
        run["odds"] = {"recovered": 0.12, "nothing": 0.74, "part": 0.07, "top_damaged": 0.07}
        run.update(hours=6, charge=1_000, after=[place] if place else [])
    return renamed(raw, *names) if names else raw


def squares(fig: Figure) -> list[Rectangle]:
    return [
        each
        for each in fig.findobj(Rectangle)
        if each.get_width() == each.get_height() and each.get_width() > 1
    ]


@pytest.mark.parametrize("name", ["one run", "stop", "no run", "metric", "hostile", "lump", "dear"])
def test_no_text_of_the_picture_overlaps(name: str) -> None:
    fig = plan_figure(drawn(name))
    assert overlaps(fig) == []
    assert not any(words.get_parse_math() for words in words_of(fig))


def test_a_square_for_every_decision_and_a_circle_for_every_run() -> None:
    found = made(CHECK_A)[0]
    first, _ = readable(found, most=MOST_LEAVES, leaves=True)
    told = list(first.all())
    fig = plan_figure(found)
    assert len(squares(fig)) == len(told)
    assert len(fig.findobj(Circle)) == sum(each.do != "stop" for each in told)
    empty = [each for each in squares(fig) if each.get_facecolor()[:3] == (1.0, 1.0, 1.0)]
    assert len(empty) == sum(each.do == "stop" for each in told)
    numbers = [words.get_text() for words in words_of(fig)]
    assert numbers.count("3") == sum(each.do == 3 for each in told) + 1  # and in the legend


@pytest.fixture(scope="module")
def of_twelve() -> Plan:
    """The plan of twelve runs, which takes seconds: names change nothing but the picture."""
    return econ.plan(scenario(twelve(), n=16, scrambles=16))


@pytest.mark.parametrize("names", [(), ("Overshot with a very long name, and " * 8,)])
def test_twelve_runs_fit_a_page(names: tuple[str, ...], of_twelve: Plan) -> None:
    found = replace(of_twelve, scenario=scenario(twelve(names), n=16, scrambles=16))
    first, below = readable(found, most=MOST_LEAVES, leaves=True)
    assert {each.do for each in first.all()} >= {1, 12}  # the whole way is shown
    fig = plan_figure(found)
    assert overlaps(fig) == []
    assert fig.get_size_inches() * 25.4 == pytest.approx([257.0, 170.0])
    labels = [words.get_text() for words in words_of(fig)]
    assert labels.count("nothing") >= 11  # none of them is cut
    assert not any(words.startswith("noth") and words != "nothing" for words in labels)
    (source,) = [w.get_text() for w in words_of(fig) if "folded" in w.get_text()]
    assert f"{left_out(found, below=below)} branches below {100 * below:g} %" in source


def test_a_picture_is_the_same_for_the_same_plan() -> None:
    one, other = (pdf(plan_figure(made(CHECK_A)[0])) for _ in range(2))
    assert one == other
    assert one.startswith(b"%PDF-")
    assert b"CreationDate" not in one
