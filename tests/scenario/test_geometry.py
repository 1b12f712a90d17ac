"""Diameters that cannot go in, over or inside are refused, with both numbers; others are not.

Origin of the expected values: that a pipe must be wider than what goes into it is geometry;
that a screw-in sub has the size of the fish, that a tap is wider than the bore it threads,
and that a bit fills its hole is common practice, no source. Words are the contract of the
messages. Lines are found by the text of the key in the file.
"""

from __future__ import annotations

import re
from typing import NamedTuple

import pytest
from broken_keys import TEXT

from econ.scenario import ScenarioError, parse
from econ.scenario.notes import notes
from econ.scenario.scenario import dotted

FISH = 'top_condition = "clean"\n'
RUN = 'kind = "overshot"\nwait = 4\n'
TOP = "outside_diameter = 6.5\n"


class Sizes(NamedTuple):
    """Lines added under [fish] and [[run]], and the fault they give, or none."""

    fish: str
    kind: str
    run: str
    key: str = ""
    line: str = ""
    allowed: str = ""
    suggestion: str = ""
    hole: str = "hole_diameter = 8.5"


def text_of(row: Sizes) -> str:
    text = TEXT
    for old, new in (
        (FISH, FISH + row.fish),
        (RUN, f'kind = "{row.kind}"\nwait = 4\n{row.run}\n'),
        ("hole_diameter = 8.5", row.hole),
    ):
        assert old in text
        text = text.replace(old, new, 1)
    return text


def on_tool(
    kind: str, fish: str, run: str, allowed: str, suggestion: str = "", key: str = "tool_outside"
) -> Sizes:
    return Sizes(fish, kind, run, f"run.1.{key}", key, allowed, suggestion)


WASHED = TOP + "largest_diameter = 7\n"
BORE = TOP + "inside_diameter = 2.8125\n"
FULL = "outside_diameter = 4.5\nlargest_diameter = 8.5\n"

REFUSED = [
    # wash pipe and outside cutters against the top
    *(
        on_tool(kind, TOP, f"tool_inside = {bore}", "fish top, 6.5 in", "larger", "tool_inside")
        for kind in ("washover", "wash_then_catch", "outside_cut")
        for bore in ("6.4", "6.5")
    ),
    # against the largest part, where the washing may reach it
    *(
        on_tool(
            "washover",
            fish,
            f"tool_inside = {bore}{length}",
            "largest diameter of the fish, 7 in",
            "wash_length",
            "tool_inside",
        )
        for fish in (WASHED, "largest_diameter = 7\n")
        for bore in ("6.75", "7")
        for length in ("", "\nwash_length = 670", "\nwash_length = { low = 300, high = 700 }")
    ),
    on_tool("outside_cut", FULL, "tool_inside = 4.5", "fish top, 4.5 in", "", "tool_inside"),
    # tools in the hole
    *(
        on_tool(kind, "", "tool_outside = 8.5", "diameter of the hole, 8.5 in", "hole_diameter")
        for kind in ("overshot", "washover", "magnet", "core_basket", "rc_basket", "dress_top")
    ),
    on_tool("overshot", TOP, "tool_outside = 9.625", "diameter of the hole, 8.5 in"),
    on_tool("condition_trip", "", "tool_outside = 8.75", "diameter of the hole, 8.5 in"),
    on_tool(
        "washover",
        "",
        "tool_outside = 7.625\ntool_inside = 7.625",
        "outside of the tool, 7.625 in",
        "",
        "tool_inside",
    ),
    # bowls
    *(
        on_tool(kind, TOP, f"tool_outside = {size}", "swallows, 6.5 in", "spear")
        for kind in ("overshot", "wall_hook")
        for size in ("6.5", "5.75")
    ),
    on_tool("overshot", TOP, "tool_inside = 6", "fish top, 6.5 in", "larger bowl", "tool_inside"),
    # inside the pipe
    *(
        on_tool(kind, BORE, f"tool_outside = {size}", "bore of the fish, 2.8125 in", "smaller")
        for kind in ("spear", "freepoint_backoff")
        for size in ("2.8125", "3")
    ),
    *(
        on_tool(kind, BORE, "tool_outside = 2.5", "bore of the fish, 2.8125 in", "nothing to bite")
        for kind in ("taper_tap", "screw_in")
    ),
    # the fish by itself
    Sizes(
        TOP + "inside_diameter = 6.5\n",
        "overshot",
        "",
        "fish.inside_diameter",
        "inside_diameter",
        "less than the outside of the fish, 6.5 in",
    ),
    Sizes(
        "largest_diameter = 6\ninside_diameter = 6.1\n",
        "overshot",
        "",
        "fish.inside_diameter",
        "inside_diameter",
        "less than the outside of the fish, 6 in",
    ),
    Sizes(
        TOP + "largest_diameter = 6.25\n",
        "overshot",
        "",
        "fish.largest_diameter",
        "largest_diameter",
        "at least the outside diameter of the top, 6.5 in",
        "its top included",
    ),
    Sizes(
        "largest_diameter = 9\n",
        "overshot",
        "",
        "fish.largest_diameter",
        "largest_diameter",
        "at most the diameter of the hole, 8.5 in",
    ),
    Sizes(
        "outside_diameter = 9\n",
        "overshot",
        "",
        "fish.outside_diameter",
        "outside_diameter",
        "at most the diameter of the hole at the fish top, 8.5 in",
    ),
    Sizes(
        TOP,
        "overshot",
        "",
        "fish.outside_diameter",
        "outside_diameter",
        "at most the diameter of the hole at the fish top, 6 in",
        hole="hole_diameter = 8.5\ndiameter_at_top = 6",
    ),
]

TAKEN = [
    Sizes(WASHED, "washover", "tool_outside = 8\ntool_inside = 7.125"),
    Sizes(WASHED, "washover", "tool_inside = 6.625\nwash_length = 240"),
    # no wash pipe passes a part that fills the hole: the washing ends above it, and says so
    Sizes(FULL, "wash_then_catch", "tool_outside = 7.625\ntool_inside = 6.625"),
    Sizes(BORE, "overshot", "tool_outside = 8.125"),
    Sizes(TOP, "overshot", "tool_inside = 6.5"),
    Sizes(BORE, "screw_in", "tool_outside = 6.5"),
    Sizes(BORE, "spear", "tool_outside = 2.75"),
    Sizes(BORE, "taper_tap", "tool_outside = 4.5"),
    Sizes(BORE, "freepoint_backoff", "tool_outside = 1.6875"),
    *(
        Sizes("", kind, "tool_outside = 8.5")
        for kind in ("condition_trip", "boot_basket", "junk_mill", "other")
    ),
    Sizes("largest_diameter = 8.5\n", "overshot", ""),
    # a fish in enlarged hole, larger than the bit: an expanded packer, say
    Sizes(
        "largest_diameter = 9\n",
        "overshot",
        "",
        hole="hole_diameter = 8.5\ndiameter_at_top = 9.5",
    ),
    Sizes("", "washover", "tool_inside = 3"),  # nothing is known of the fish
]


def label(row: Sizes) -> str:
    return f"{row.kind}:{row.fish}:{row.run}".replace("\n", " ")


def test_the_rows_differ() -> None:
    assert len({row[:3] + row[-1:] for row in REFUSED + TAKEN}) == len(REFUSED + TAKEN)


@pytest.mark.parametrize("row", REFUSED, ids=label)
def test_what_cannot_work_is_refused(row: Sizes) -> None:
    text = text_of(row)
    with pytest.raises(ScenarioError) as caught:
        parse(text)
    lines = text.split("\n")
    wanted = next(n for n, line in enumerate(lines, start=1) if line.startswith(row.line))
    given = f"{lines[wanted - 1]} in"  # both numbers, in the unit of the file
    found = [
        fault
        for fault in caught.value.faults
        if (dotted(fault.path), fault.line, fault.given) == (row.key, wanted, given)
    ]
    assert len(found) == 1, str(caught.value)
    assert row.allowed in found[0].allowed
    assert row.suggestion in found[0].suggestion


@pytest.mark.parametrize("row", REFUSED, ids=label)
def test_one_slip_is_one_fault(row: Sizes) -> None:
    with pytest.raises(ScenarioError) as caught:
        parse(text_of(row))
    assert len(caught.value.faults) == 1, str(caught.value)


@pytest.mark.parametrize("row", TAKEN, ids=label)
def test_what_can_work_is_taken(row: Sizes) -> None:
    assert parse(text_of(row)).run[0].kind == row.kind


def test_metric_sizes_in_whole_millimetres() -> None:
    metric = TEXT.replace('"field"', '"metric"')
    sound = metric.replace("hole_diameter = 8.5", "hole_diameter = 215.9")
    # by definition 8.5 in = 215.9 mm: a bit written as 216 mm is the bit of that hole
    assert parse(sound.replace(FISH, FISH + "largest_diameter = 216\n"))
    with pytest.raises(ScenarioError, match=r"largest_diameter = 222 mm.*, 215\.9 mm"):
        parse(sound.replace(FISH, FISH + "largest_diameter = 222\n"))
    washed = sound.replace(RUN, 'kind = "washover"\nwait = 4\ntool_inside = 160\n')
    with pytest.raises(ScenarioError, match=r"tool_inside = 160 mm; allowed: more than .*165 mm"):
        parse(washed.replace(FISH, FISH + "outside_diameter = 165\n"))


def test_several_slips_are_reported_at_once() -> None:
    row = Sizes(BORE, "washover", "tool_outside = 9\ntool_inside = 6")
    with pytest.raises(ScenarioError) as caught:
        parse(text_of(row))
    places = [dotted(fault.path) for fault in caught.value.faults]
    assert places == ["run.1.tool_outside", "run.1.tool_inside"]


def test_geometry_is_checked_beside_a_fault_elsewhere() -> None:
    text = text_of(Sizes(TOP, "washover", "tool_inside = 6")).replace("rig = 53000", "rig = -1")
    with pytest.raises(ScenarioError) as caught:
        parse(text)
    assert {dotted(fault.path) for fault in caught.value.faults} == {
        "rates.rig",
        "run.1.tool_inside",
    }


# ---- notes ------------------------------------------------------------------------------------


def test_washing_that_ends_at_a_full_gauge_part_is_noted() -> None:
    run = "tool_outside = 7.625\ntool_inside = 6.625"
    said = notes(parse(text_of(Sizes(FULL, "wash_then_catch", run))))
    found = [each for each in said if "no wash pipe passes" in each]
    assert len(found) == 1
    assert "run.1" in found[0]
    assert "8.5 in part of the fish in 8.5 in hole" in found[0]
    wide = text_of(Sizes(WASHED, "washover", "tool_outside = 8\ntool_inside = 7.125"))
    assert not [each for each in notes(parse(wide)) if "no wash pipe passes" in each]


def test_a_run_on_planning_defaults_is_noted() -> None:
    plain = notes(parse(TEXT))
    origin = 'origin = "planning default, judgement, no source"'
    said = notes(parse(text_of(Sizes("", "overshot", origin))))
    new = [each for each in said if each not in plain]
    assert len(new) == 1
    assert "rests on planning defaults" in new[0]
    assert "run.1 (overshot)" in new[0]
    assert "run.2" not in new[0]
    known = text_of(Sizes("", "overshot", 'origin = "supervisor, ten local runs"'))
    assert notes(parse(known)) == plain


def test_planning_values_are_said_in_the_units_of_the_file() -> None:
    # by hand: 230 ft x 0.3048 = 70.104 m, 2 ft/h = 0.6096 m/h
    left_out = "kickoff_above_fish|kickoff_length|kickoff_rate|bit_life|kickoff_failure"
    bare = re.sub(rf"(?m)^({left_out}) = .*\n", "", TEXT)
    metric, field = (
        next(each for each in notes(parse(text)) if each.startswith("planning values"))
        for text in (bare.replace('units = "field"', 'units = "metric"'), bare)
    )
    assert "kickoff_above_fish = 70.1 m" in metric
    assert "kickoff_rate = 0.6096 m/h" in metric
    assert "kickoff_above_fish = 230 ft" in field
    assert "bit_life = 1400 ft" in field
    assert "fraction" not in metric + field
