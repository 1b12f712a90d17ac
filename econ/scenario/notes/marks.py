"""Notes on doubts and marks that do nothing, on runs never made, and on a deadline."""

from __future__ import annotations

from collections.abc import Iterator

from econ.scenario.marks import ATTACHED
from econ.scenario.notes.registry import note
from econ.scenario.program import OddsByKind
from econ.scenario.reach import Reach, reach
from econ.scenario.scenario import Scenario


@note
def doubts_without_a_run(scenario: Scenario) -> Iterator[str]:
    """A doubt that no run depends on changes nothing."""
    tables = [run for run in scenario.run if isinstance(run.odds, OddsByKind)]
    for number, doubt in enumerate(scenario.doubt, start=1):
        if not any(run.depends_on is None or doubt.name in run.depends_on for run in tables):
            yield f"doubt.{number} ({doubt.name}) is not used: the odds of no run depend on it"


@note
def runs_never_made(scenario: Scenario) -> Iterator[str]:
    """A run that something bars for good stands in the list for nothing."""
    can = reach(scenario, heed_bars=True)
    for number, run in enumerate(scenario.run, start=1):
        if number not in can.runs:
            why = _why(can, run.all_needs, run.all_bars)
            yield f"run.{number} can never be made, in no order and after no outcome: {why}"
    for name, sections in (("fallback", scenario.fallback), ("reading", scenario.reading)):
        for number, section in enumerate(sections, start=1):
            # parting takes the mark before a fallback
            bars = [mark for mark in section.bars if name == "reading" or mark != ATTACHED]
            if not can.holding >= {*section.needs} or can.lasting & {*bars}:
                yield f"{name}.{number} is never open: {_why(can, section.needs, bars)}"


def _why(can: Reach, needs: tuple[str, ...] | list[str], bars: tuple[str, ...] | list[str]) -> str:
    """Why something is never open, in words."""
    missing = [mark for mark in dict.fromkeys(needs) if mark not in can.holding]
    lasting = [mark for mark in dict.fromkeys(bars) if mark in can.lasting]
    said = [f"{mark}, which it needs, never holds" for mark in missing]
    said += [
        f"{mark}, which bars it, holds now and no run that can be made takes it" for mark in lasting
    ]
    return " and ".join(said) or "what it needs bars it as well"


@note
def marks_that_never_hold(scenario: Scenario) -> Iterator[str]:
    """Bars and ratios of a mark that nothing gives do nothing, or the mark is forgotten."""
    can = reach(scenario, heed_bars=True).holding
    for name, what in (("bars", "bars"), ("ratio_with", "ratio_with")):
        idle: dict[str, list[str]] = {}
        for section in ("run", "fallback", "reading"):
            for number, item in enumerate(getattr(scenario, section), start=1):
                for mark in getattr(item, name, ()):
                    if mark not in can:
                        idle.setdefault(mark, []).append(f"{section}.{number}")
        if idle:
            places = ", ".join(dict.fromkeys(place for each in idle.values() for place in each))
            marks = ", ".join(idle)
            yield (
                f"{what} of {places} without effect for {marks}, which never hold"
                f"{'s' * (len(idle) == 1)}: neither [fish] marks nor a run that can be made has it"
            )


@note
def consent_and_no_touch(scenario: Scenario) -> Iterator[str]:
    """Consent in writing is there or it is not."""
    if scenario.fish.written_consent and "no_touch" in scenario.fish.marks:
        yield (
            "fish.written_consent = true and fish.marks has no_touch: is the consent there? "
            "no_touch is taken as holding, which bars what must not touch the fish"
        )


@note
def marks_without_an_outcome(scenario: Scenario) -> Iterator[str]:
    """Marks and doubts change with `prepared` and `part` alone."""
    for number, run in enumerate(scenario.run, start=1):
        names = [name for name in ("gives", "takes", "renews") if getattr(run, name)]
        if names and not run.does_own_job:
            yield (
                f"run.{number}: {' and '.join(names)} without effect, because prepared and part "
                "have no chance"
            )


@note
def hole_lost_while_attached(scenario: Scenario) -> Iterator[str]:
    """With the hole the string above the parting point is lost too."""
    if not scenario.can_be_attached:
        return
    for number, run in enumerate(scenario.run, start=1):
        lost = any(odds.hole_lost > 0 for odds in run.odds_by_kind())
        if lost and ATTACHED not in run.all_bars and run.string_value == 0:
            yield (
                f"run.{number} can lose the hole while attached, but its string_value is 0; the "
                "string above the parting point is lost with the hole, so put its value there"
            )


@note
def parting_without_a_string(scenario: Scenario) -> Iterator[str]:
    """Only an attached string must be parted from."""
    if scenario.parting is not None and not scenario.can_be_attached:
        yield "[parting] is not used: neither [fish] marks nor a run says attached"


@note
def deadline_that_costs_nothing(scenario: Scenario) -> Iterator[str]:
    """A deadline counts by what it costs, and lies ahead."""
    deadline = scenario.deadline
    if deadline is None:
        return
    if deadline.cost_once == 0 and deadline.cost_per_day == 0:
        yield "[deadline] changes nothing: cost_once and cost_per_day are 0"
    if scenario.deadline_days <= 0:
        yield "the deadline has passed when the decision is taken: every branch is late"
