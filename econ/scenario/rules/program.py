"""Rules on the program of runs, the tools it rents, and the fallbacks open at its ends."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from econ.scenario.fallbacks import Lump
from econ.scenario.faults import Fault
from econ.scenario.program import Run
from econ.scenario.rules.registry import rule
from econ.scenario.scenario import Scenario


@rule("run")
def runs_needed_can_be_made_before(scenario: Scenario) -> Iterator[Fault]:
    """The runs that must have been made before a run are listed, and none waits for it.

    They may be listed after it: a list is a priority, and what is passed over is made later.
    """
    runs = scenario.run
    for number, run in enumerate(runs, start=1):
        path = ("run", number - 1, "after")
        for needed in dict.fromkeys(run.after):
            if needed == number or needed > len(runs):
                others = [str(each) for each in range(1, len(runs) + 1) if each != number]
                yield Fault(
                    f"{needed}, " + ("the run itself" if needed == number else "no run listed"),
                    "numbers of other runs, counted from 1: " + (", ".join(others) or "none here"),
                    "leave it out, or correct it",
                    path=path,
                )
            elif (circle := way_back(runs, start=needed, goal=number)) is not None:
                yield Fault(
                    " after ".join(f"run {each}" for each in (number, *circle)),
                    "runs that do not wait for one another",
                    "leave one of these numbers out",
                    path=path,
                )


def way_back(runs: Sequence[Run], *, start: int, goal: int) -> list[int] | None:
    """Runs from `start` to `goal`, each needing the next; None if there is no such way."""
    ways = [[start]]
    seen = {start}
    while ways:
        way = ways.pop()
        if way[-1] == goal:
            return way
        for needed in runs[way[-1] - 1].after:
            if needed <= len(runs) and needed not in seen:
                seen.add(needed)
                ways.append([*way, needed])
    return None


@rule("run", "rental")
def rentals_serve(scenario: Scenario) -> Iterator[Fault]:
    """A rented tool is used by a run, unless it is on contract already."""
    for number, rental in enumerate(scenario.rental):
        if rental.held_days is None and not any(map(rental.serves, scenario.run)):
            listed = [word for run in scenario.run for word in (run.kind, *run.options)]
            words = ", ".join(dict.fromkeys(listed)) or "none, because no run is listed"
            wanted = ", ".join(dict.fromkeys([*rental.kinds, *rental.options]))
            yield Fault(
                f"a tool that no run listed uses ({wanted or 'any kind'})",
                f"kinds and options of the runs listed: {words}",
                "correct them, take the rental out, or set held_days if it is on contract already",
                path=("rental", number),
            )


@rule("run", "rental")
def rentals_are_called_at_a_run(scenario: Scenario) -> Iterator[Fault]:
    """A tool is called out now or at a run listed, any of them: with the first run that uses it
    at the latest."""
    for number, rental in enumerate(scenario.rental):
        call_out = rental.call_out
        if call_out is not None and call_out > len(scenario.run):
            yield Fault(
                f"call_out = {call_out}",
                f"0 for now, or the number of a run listed, 1 to {len(scenario.run)}"
                if scenario.run
                else "0 for now, because no run is listed",
                path=("rental", number, "call_out"),
            )


@rule("run", "fallback")
def fallback_open_at_every_end(scenario: Scenario) -> Iterator[Fault]:
    """A fallback is open whatever marks hold, also after a lost string or hole."""
    always = [each for each in scenario.fallback if not each.needs and not each.bars]
    if not always:
        yield Fault(
            "needs or bars of every fallback",
            "at least one fallback that is open whatever marks hold",
            "add a fallback with neither",
            path=("fallback",),
        )
        return
    lumps = [fallback for fallback in always if isinstance(fallback, Lump)]
    if len(lumps) < len(always):
        return  # a sidetrack is open after every kind of end
    whatever = " without needs and bars" if len(always) < len(scenario.fallback) else ""
    for outcome, are_open in (
        ("string_lost", any(lump.open_after_string_lost for lump in lumps)),
        ("hole_lost", any(lump.open_after_hole_lost for lump in lumps)),
    ):
        can = [
            str(number)
            for number, run in enumerate(scenario.run, start=1)
            if any(getattr(odds, outcome) > 0 for odds in run.odds_by_kind())
        ]
        if can and not are_open:
            yield Fault(
                f"no fallback that is open after {outcome}",
                f"at least one{whatever}, because run {', '.join(can)} can end so",
                f"add a fallback, or set after_{outcome} = true where it is open",
                path=("fallback",),
            )
