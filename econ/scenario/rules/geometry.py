"""Rules on diameters: a tool that cannot go in, over or inside is refused, with both numbers.

Only what is impossible is a fault. Clearances that practice recommends are no matter for
the file; `econ methods` calls a tool that leaves less doubtful.

    tool in the hole         tool_outside < hole (a bit or mill may be as large)
    wash pipe over the fish  tool_inside > the fish: at its top always; at its largest part
                             too, unless wash_length ends the washing above that, or the
                             part fills the hole, so that no wash pipe could pass it anyway
    bowl over the top        tool_outside > outside diameter of the top, bore not smaller
    spear in the top         tool_outside < inside diameter of the top
    tap and thread           tool_outside > inside diameter: smaller, it finds nothing to bite
    pieces                   bore < outside diameter; the first one has the top in it
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from econ.scenario.amounts import ends_of
from econ.scenario.faults import Fault
from econ.scenario.lines import Path
from econ.scenario.program import Run
from econ.scenario.quantities import UNITS
from econ.scenario.rules.registry import rule
from econ.scenario.scenario import Scenario

ROUNDING = 0.003  # a size in whole millimetres may miss the same size in inches by so much
WASH_KINDS = ("washover", "wash_then_catch", "outside_cut")
BOWL_KINDS = ("overshot", "wall_hook", "knuckle_joint", "side_door")
INSIDE_KINDS = ("spear", "freepoint_backoff", "sever", "chemical_cut", "source_retrieval")
THREAD_KINDS = ("taper_tap", "screw_in")
FULL_BORE = (
    "condition_trip",
    "boot_basket",
    "junk_mill",
    "drill_past",
    "other",
)  # may carry a bit or mill
FULL_GAUGE = 0.5  # [in] a part of the fish this near the hole leaves no wall for wash pipe


def full_gauge(scenario: Scenario) -> bool:
    """Whether the largest part of the fish fills the hole, so that no wash pipe passes it."""
    largest = scenario.fish.largest
    room = FULL_GAUGE if scenario.units == "field" else FULL_GAUGE / UNITS["diameter"][2]
    return largest is not None and largest > scenario.well.hole_diameter - room


@rule("units", "fish")
def fish_diameters_agree(scenario: Scenario) -> Iterator[Fault]:
    """Bore, outside at the top and largest diameter are in that order."""
    fish, show = scenario.fish, _shown(scenario)
    inside, outside, largest = fish.inside_diameter, fish.outside_diameter, fish.largest_diameter
    around = largest if outside is None else outside
    if inside is not None and around is not None and inside >= around:
        yield Fault(
            f"inside_diameter = {show(inside)}",
            f"less than the outside of the fish, {show(around)}",
            path=("fish", "inside_diameter"),
        )
    if outside is not None and largest is not None and outside > largest:
        yield Fault(
            f"largest_diameter = {show(largest)}",
            f"at least the outside diameter of the top, {show(outside)}",
            "the largest diameter is that of the whole fish, its top included",
            path=("fish", "largest_diameter"),
        )


@rule("units", "well", "fish")
def fish_goes_in_hole(scenario: Scenario) -> Iterator[Fault]:
    """The fish is not larger than the hole it lies in."""
    fish, well, show = scenario.fish, scenario.well, _shown(scenario)
    at_top = well.hole_diameter if well.diameter_at_top is None else well.diameter_at_top
    hole = max(well.hole_diameter, at_top)
    sizes: list[tuple[Path, float | None, float, str]] = [
        (("fish", "largest_diameter"), fish.largest_diameter, hole, "the hole"),
        (("fish", "outside_diameter"), fish.outside_diameter, at_top, "the hole at the fish top"),
    ]
    for number, piece in enumerate(fish.piece):
        own: Path = ("fish", "piece", number, "outside_diameter")
        sizes.append((own, piece.outside_diameter, hole, "the hole"))
    for path, size, room, where in sizes:
        if size is not None and size > room * (1 + ROUNDING):
            yield Fault(
                f"{path[-1]} = {show(size)}",
                f"at most the diameter of {where}, {show(room)}",
                path=path,
            )


@rule("units", "fish")
def pieces_agree_with_the_fish(scenario: Scenario) -> Iterator[Fault]:
    """A piece is wider than its bore; its sizes and those told of the fish are the same fish."""
    fish, show = scenario.fish, _shown(scenario)
    for number, piece in enumerate(fish.piece):
        outside, bore, path = piece.outside_diameter, piece.bore, ("fish", "piece", number)
        if outside is not None and bore is not None and bore >= outside:
            yield Fault(
                f"bore = {show(bore)}",
                f"less than the outside diameter of the piece, {show(outside)}",
                path=(*path, "bore"),
            )
        whole = fish.largest_diameter
        if outside is not None and whole is not None and outside > whole * (1 + ROUNDING):
            yield Fault(
                f"outside_diameter = {show(outside)}",
                f"at most largest_diameter of the fish, {show(whole)}",
                "correct one of them, or leave largest_diameter out: the pieces tell it",
                path=(*path, "outside_diameter"),
            )
    if not fish.piece:
        return
    first = fish.piece[0]
    for name, told, own in (
        ("outside_diameter", fish.outside_diameter, first.outside_diameter),
        ("bore", fish.inside_diameter, first.bore),
    ):
        # A tool joint at the top may be wider than the top, and a bore narrower below it.
        wrong = (
            told is not None
            and own is not None
            and (
                own < told * (1 - ROUNDING)
                if name == "outside_diameter"
                else own > told * (1 + ROUNDING)
            )
        )
        if wrong and told is not None and own is not None:
            side = "at least the outside" if name == "outside_diameter" else "at most the inside"
            yield Fault(
                f"{name} = {show(own)}",
                f"{side} diameter of the fish top, {show(told)}",
                "the first piece has the top in it",
                path=("fish", "piece", 0, name),
            )


@rule("units", "well", "run")
def tool_goes_in_hole(scenario: Scenario) -> Iterator[Fault]:
    """A tool passes down the hole; its bore is smaller than its outside."""
    hole, show = scenario.well.hole_diameter, _shown(scenario)
    for number, run in enumerate(scenario.run):
        outside, bore = run.tool_outside, run.tool_inside
        if outside is not None and outside >= hole:
            fits = run.kind in FULL_BORE and outside <= hole * (1 + ROUNDING)
            if not fits:
                yield Fault(
                    f"tool_outside = {show(outside)}",
                    f"less than the diameter of the hole, {show(hole)}",
                    "run a smaller tool, or correct hole_diameter under [well]",
                    path=("run", number, "tool_outside"),
                )
        if outside is not None and bore is not None and bore >= outside:
            yield Fault(
                f"tool_inside = {show(bore)}",
                f"less than the outside of the tool, {show(outside)}",
                path=("run", number, "tool_inside"),
            )


@rule("units", "well", "fish", "run")
def wash_pipe_passes_over(scenario: Scenario) -> Iterator[Fault]:
    """Wash pipe and outside cutters go over what they wash."""
    fish, show = scenario.fish, _shown(scenario)
    outside, largest = fish.outside, fish.largest
    for number, run in enumerate(scenario.run):
        bore = run.tool_inside
        if run.kind not in WASH_KINDS or bore is None:
            continue
        path = ("run", number, "tool_inside")
        if outside is not None and bore <= outside:
            yield Fault(
                f"tool_inside = {show(bore)}",
                f"more than the outside diameter of the fish top, {show(outside)}",
                "run larger wash pipe, or another kind of run if the hole has no room for it",
                path=path,
            )
        elif (
            largest is not None
            and bore <= largest
            and not full_gauge(scenario)
            and _washes_all(scenario, run)
        ):
            yield Fault(
                f"tool_inside = {show(bore)}",
                f"more than the largest diameter of the fish, {show(largest)}",
                "run larger wash pipe, or give wash_length if the washing ends above that part",
                path=path,
            )


@rule("units", "fish", "run")
def tool_takes_the_top(scenario: Scenario) -> Iterator[Fault]:
    """A bowl goes over the top, a spear into it; a tap or a thread finds something to bite."""
    fish, show = scenario.fish, _shown(scenario)
    top, bore = fish.outside, fish.inside
    for number, run in enumerate(scenario.run):
        tool, inside = run.tool_outside, run.tool_inside
        path = ("run", number, "tool_outside")
        if run.kind in BOWL_KINDS and top is not None:
            if tool is not None and tool <= top:
                yield Fault(
                    f"tool_outside = {show(tool)}",
                    f"more than the outside diameter of the fish top it swallows, {show(top)}",
                    "run a larger bowl, or a spear inside",
                    path=path,
                )
            if inside is not None and inside < top * (1 - ROUNDING):
                yield Fault(
                    f"tool_inside = {show(inside)}",
                    f"at least the outside diameter of the fish top, {show(top)}",
                    "run a larger bowl, or a spear inside",
                    path=("run", number, "tool_inside"),
                )
        if tool is None or bore is None:
            continue
        if run.kind in INSIDE_KINDS and tool >= bore:
            yield Fault(
                f"tool_outside = {show(tool)}",
                f"less than the bore of the fish, {show(bore)}, for the part that goes in",
                "run a smaller tool, or an overshot outside",
                path=path,
            )
        if run.kind in THREAD_KINDS and tool <= bore:
            yield Fault(
                f"tool_outside = {show(tool)}",
                f"more than the bore of the fish, {show(bore)}",
                "a thread no wider than the bore has nothing to bite",
                path=path,
            )


def _washes_all(scenario: Scenario, run: Run) -> bool:
    """Whether the washing may go to the lower end: nothing is said, or a length that reaches."""
    length = run.wash_length
    if length is None:
        return True
    return ends_of(length)[1] >= scenario.fish.bottom - scenario.fish.top


def _shown(scenario: Scenario) -> Callable[[float], str]:
    """Diameters in words, in the unit of the file."""
    unit = UNITS["diameter"][0 if scenario.units == "field" else 1]
    return lambda size: f"{size:.10g} {unit}"
