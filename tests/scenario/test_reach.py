"""Marks and runs that can be reached, against every history of small random programs walked out.

Origin of the expected values: independent, a search over all states of a job by the meaning of
the keys (a run needs all, is barred by any, takes and then gives after prepared or part; nothing
trips while attached), which shares nothing with the package but the scenario it reads.
"""

from __future__ import annotations

import tomllib
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from econ.scenario import Scenario, ScenarioError, parse
from econ.scenario.notes import notes
from econ.scenario.reach import reach

HEAD = """schema = 1
units = "field"
currency = "USD"
[job]
well = "Invented"
[well]
depth = 9800
hole_diameter = 8.5
shoe_depth = 3600
[trip_speed]
in = { cased = 2000, open = 1400 }
out = { cased = 1800, open = 1300 }
[rates]
rig = 50000
[parting]
hours = 8
[[fallback]]
name = "Window"
hours = 200
"""
ODDS = (
    "{ prepared = 0.5, nothing = 0.5 }",
    "{ part = 0.5, nothing = 0.5 }",
    "{ nothing = 1 }",
    "{ top_damaged = 0.5, nothing = 0.5 }",
)
WORDS = ("attached", "buried", "washed", "source")
CONDITIONS = (*WORDS, "damaged_top", "made_1", "made_2", "made_3")
RUN = st.fixed_dictionaries(
    {
        "needs": st.lists(st.sampled_from(CONDITIONS), max_size=2),
        "bars": st.lists(st.sampled_from(CONDITIONS), max_size=2),
        "gives": st.lists(st.sampled_from(WORDS), max_size=2),
        "takes": st.lists(st.sampled_from(WORDS), max_size=2),
        "after": st.lists(st.integers(1, 3), max_size=1),
        "odds": st.sampled_from(ODDS),
        "clock": st.sampled_from(["hours = 9", "trips = [{ work = 3 }]"]),
        "dresses_top": st.booleans(),
    }
)


def written(runs: list[dict[str, Any]], start: list[str]) -> str:
    """A file of these runs, with these marks at the start."""
    lines = [HEAD, f"[fish]\ntop = 9300\nbottom = 9800\nmarks = {start}"]
    for run in runs:
        lines.append(f'[[run]]\nname = "Run"\n{run["clock"]}\nodds = {run["odds"]}')
        lines += [f"{name} = {run[name]}" for name in ("needs", "bars", "gives", "takes", "after")]
        lines.append(f"dresses_top = {str(run['dresses_top']).lower()}")
    return "\n".join(lines).replace("'", '"')


def walked(runs: list[dict[str, Any]], start: list[str]) -> tuple[set[str], set[int]]:
    """Marks that hold in some state, and runs that are made in some history."""
    first = frozenset(start)
    states, ahead = {first}, [first]
    made = set()
    while ahead:
        state = ahead.pop()
        for number, run in enumerate(runs, start=1):
            needs = {*run["needs"], *(f"made_{k}" for k in run["after"])}
            bars = {*run["bars"]} | ({"attached"} if "trips" in run["clock"] else set())
            if not needs <= state or bars & state:
                continue
            made.add(number)
            after = state | {f"made_{number}"}
            if run["dresses_top"]:
                after -= {"damaged_top"}
            follow = [after]
            if "prepared" in run["odds"] or "part" in run["odds"]:
                follow.append((after - {*run["takes"]}) | {*run["gives"]})
            if "top_damaged" in run["odds"]:
                follow.append(after | {"damaged_top"})
            ahead += [new for new in follow if new not in states]
            states |= {*follow}
    return set().union(*states), made


def read(text: str) -> Scenario:
    """The job without the rules between its keys, so that contradictions are walked too."""
    return Scenario.model_validate(tomllib.loads(text), by_alias=True, by_name=False)


@settings(max_examples=300, deadline=None)
@given(
    runs=st.lists(RUN, min_size=3, max_size=3),
    start=st.lists(st.sampled_from([*WORDS, "damaged_top"]), max_size=3, unique=True),
)
def test_nothing_happens_that_is_not_reached(runs: list[dict[str, Any]], start: list[str]) -> None:
    scenario = read(written(runs, start))
    marks, made = walked(runs, start)
    can = reach(scenario, heed_bars=True)
    assert marks <= can.holding
    assert made <= can.runs
    loose = reach(scenario, heed_bars=False)
    assert can.holding <= loose.holding
    assert can.runs <= loose.runs
    never = {words.split(" ")[0] for words in notes(scenario) if "can never be made" in words}
    assert not never & {f"run.{number}" for number in made}


@settings(max_examples=100, deadline=None)
@given(
    runs=st.lists(RUN, max_size=3),
    start=st.lists(st.sampled_from(CONDITIONS), max_size=3),
)
def test_any_program_is_read_or_refused_in_words(
    runs: list[dict[str, Any]], start: list[str]
) -> None:
    text, message = written(runs, start), ""
    try:
        parse(text)
    except ScenarioError as error:
        message = str(error)
    assert message.isascii()
    # what never comes to hold is refused where a run needs it and nothing else is wrong with it
    missing = {mark for run in runs for mark in run["needs"]} - {*CONDITIONS[5:]}
    for mark in missing - {*start, *(mark for run in runs for mark in run["gives"])}:
        assert mark == "damaged_top" or f"given '{mark}', which can never hold" in message


def test_what_is_reached_by_one_mark_at_a_time() -> None:
    plain = {"needs": [], "bars": [], "gives": [], "takes": [], "after": [], "dresses_top": False}
    off, wash, catch = (
        {**plain, "clock": "hours = 9", "odds": ODDS[0], "takes": ["attached"]},
        {**plain, "clock": "trips = [{ work = 3 }]", "odds": ODDS[0], "gives": ["washed"]},
        {**plain, "clock": "hours = 9", "odds": ODDS[3], "needs": ["washed"]},
    )
    scenario = read(written([off, wash, catch], ["attached", "source"]))
    can = reach(scenario, heed_bars=True)
    marks = {"attached", "source", "washed", "damaged_top", "made_1", "made_2", "made_3"}
    assert (can.holding, can.runs, can.lasting) == (marks, {1, 2, 3}, {"source"})
    stays = read(written([{**off, "odds": ODDS[3], "takes": []}, wash], ["attached"]))
    can = reach(stays, heed_bars=True)
    assert (can.runs, can.lasting) == ({1}, {"attached"})
    assert reach(stays, heed_bars=False).runs == {1, 2}
