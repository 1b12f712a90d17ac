"""Rules on marks: words that mean one thing, needs that can hold, runs that get off the fish."""

from __future__ import annotations

import re
from collections.abc import Iterator

from econ.scenario.faults import Fault, did_you_mean
from econ.scenario.lines import Path
from econ.scenario.marks import (
    ATTACHED,
    DAMAGED_TOP,
    MADE,
    MOST_MARKS,
    made,
    one_letter_apart,
    plain,
    run_made,
)
from econ.scenario.reach import reach
from econ.scenario.rules.program import way_back
from econ.scenario.rules.registry import rule
from econ.scenario.scenario import Scenario

SECTIONS = ("fish", "run", "fallback", "reading")  # that name marks


@rule(*SECTIONS)
def marks_are_words_of_their_own(scenario: Scenario) -> Iterator[Fault]:
    """No mark of the file begins as runs made do, and there are not too many of them."""
    runs = len(scenario.run)
    listed = f"{MADE}1 to {made(runs)}, for runs made" if runs else "none, as no run is listed"
    own: dict[str, None] = {}
    for mark, path in _uses(scenario):
        number = run_made(mark)
        changed = path[-2] in ("gives", "takes") or path[:2] == ("fish", "marks")
        if number is not None and number > runs:
            yield Fault(f"'{mark}', no run listed", f"of such marks {listed}", path=path)
        elif number is None and mark.startswith(MADE):
            yield Fault(
                f"'{mark}'",
                f"a mark of the file's own that does not begin with {MADE}; or {listed}",
                "rename it",
                path=path,
            )
        elif changed and (number is not None or (mark == DAMAGED_TOP and path[0] == "run")):
            why = "a run made" if number is not None else "the outcome top_damaged"
            yield Fault(
                f"'{mark}', which {why} gives by itself",
                "marks of the file's own, and attached",
                "dresses_top = true takes it" if mark == DAMAGED_TOP else "leave it out",
                path=path,
            )
        elif number is None and mark not in (ATTACHED, DAMAGED_TOP):
            own[mark] = None
            if len(own) == MOST_MARKS + 1 and mark == [*own][-1]:
                yield Fault(
                    f"'{mark}', the 17th mark of the file's own",
                    f"at most {MOST_MARKS} of them",
                    "join some, or leave out those that no run needs",
                    path=path,
                )
                return


@rule(*SECTIONS)
def marks_are_spelt_in_one_way(scenario: Scenario) -> Iterator[Fault]:
    """Two words that differ by a letter, by capitals or by underscores may be meant as one."""
    first = _first_uses(scenario)
    for mark, other in _alike(scenario).items():
        yield Fault(
            f"'{mark}', and elsewhere '{other}'",
            "one spelling for one mark, and names that differ by more than a letter for two",
            f"did you mean {other}?",
            path=first[mark],
        )


@rule("fish", "run", "fallback", "reading")
def marks_agree_in_a_section(scenario: Scenario) -> Iterator[Fault]:
    """No mark is both given and taken, or both needed and barring."""
    for number, run in enumerate(scenario.run):
        for mark in dict.fromkeys(mark for mark in run.gives if mark in run.takes):
            yield Fault(
                f"'{mark}' in gives and in takes",
                "a mark that the run gives, or one that it takes",
                "leave it out of one of them",
                path=("run", number, "gives"),
            )
    for name in ("run", "fallback", "reading"):
        for number, section in enumerate(getattr(scenario, name)):
            for mark in dict.fromkeys(mark for mark in section.needs if mark in section.bars):
                yield Fault(
                    f"'{mark}' in needs and in bars",
                    "a mark that must hold, or one that must not",
                    "leave it out of one of them",
                    path=(name, number, "needs"),
                )


@rule(*SECTIONS)
def marks_needed_can_hold(scenario: Scenario) -> Iterator[Fault]:
    """What a section needs is there at the start, or a run that can be made gives it.

    A run with a fault of its own counts as made, so that its fault is told once.
    """
    runs, misspelt = scenario.run, _alike(scenario)
    listed = {made(number) for number in range(1, len(runs) + 1)}
    sources = listed | set(scenario.fish.marks)
    for run in runs:
        sources |= {*run.gives} if run.does_own_job else set()
        if any(odds.top_damaged > 0 for odds in run.odds_by_kind()):
            sources.add(DAMAGED_TOP)
    faulty = [
        number
        for number, run in enumerate(runs, start=1)
        if not sources >= {*run.needs}
        or set(run.needs) & {*run.bars}
        or any(n > len(runs) or way_back(runs, start=n, goal=number) for n in run.after)
    ]
    can = reach(scenario, heed_bars=False, granted=faulty).holding
    words = sorted((can & sources) - listed)
    for mark, path in _uses(scenario):
        number = run_made(mark)
        told = mark in misspelt or (mark.startswith(MADE) and mark not in listed)
        if path[2] != "needs" or told or (mark in can and mark in sources):
            continue
        todo = "give it in a run listed, or put it in [fish] marks"
        todo = todo if number is None else "leave it out, or correct the number"
        yield Fault(
            f"'{mark}', which can never hold: {_why_not(scenario, mark)}",
            f"marks that can hold: {', '.join(words) or 'none in this file'}",
            did_you_mean(mark, words) or todo,
            path=path,
        )


def _why_not(scenario: Scenario, mark: str) -> str:
    """Why a mark can never come to hold, in words."""
    number = run_made(mark)
    if number is not None:
        return f"run {number} can never be made"
    if mark == DAMAGED_TOP:
        return "the top is not damaged now, and no run that can be made damages it"
    giving = [n for n, run in enumerate(scenario.run, start=1) if mark in run.gives]
    if not giving:
        return "[fish] marks has it not, and no run gives it"
    idle = [n for n in giving if not scenario.run[n - 1].does_own_job]
    if idle == giving:
        runs = ", ".join(map(str, idle))
        return f"only run {runs} gives it, with no chance of prepared or part"
    runs = ", ".join(str(n) for n in giving if n not in idle)
    return f"only run {runs} gives it, which can never be made"


@rule("run")
def prepared_changes_something(scenario: Scenario) -> Iterator[Fault]:
    """A run that can end in `prepared` gives, takes, renews, or tells something of the fish."""
    for number, run in enumerate(scenario.run):
        one, other = run.odds_by_kind()
        tells = one.prepared != other.prepared
        if one.prepared > 0 and not (run.gives or run.takes or run.renews or tells):
            yield Fault(
                f"prepared = {one.prepared:.10g}, which changes nothing",
                "a mark that the run gives or takes then, a doubt that it renews, or other odds "
                "of prepared on a stubborn fish",
                "name the mark in gives or takes, or count these odds as nothing",
                path=("run", number, "odds"),
            )


@rule(*SECTIONS, "parting")
def attached_string_is_got_off(scenario: Scenario) -> Iterator[Fault]:
    """No run trips through a string that is whole, and a stop knows what parting costs."""
    for number, run in enumerate(scenario.run):
        if ATTACHED in run.needs and run.trips is not None:
            yield Fault(
                "trips, of a run that needs attached",
                "hours, because nothing trips while the stuck string is whole",
                "give all hours of the run under hours",
                path=("run", number, "trips"),
            )
    for number, fallback in enumerate(scenario.fallback):
        if ATTACHED in fallback.needs:
            yield Fault(
                "attached, of a fallback",
                "marks that can hold at a stop, where parting has taken attached",
                "leave it out",
                path=("fallback", number, "needs"),
            )
    if scenario.parting is None and scenario.can_be_attached:
        yield Fault(
            "no [parting]",
            "hours and charge of getting off the fish, because it is or can become attached",
            "add [parting] with hours = ... and charge = ...",
        )


def _uses(scenario: Scenario) -> Iterator[tuple[str, Path]]:
    """Every mark where it is named, in the order of `Scenario.marks`, with its key path."""
    for place, mark in enumerate(scenario.fish.marks):
        yield mark, ("fish", "marks", place)
    for section, names in (
        ("run", ("needs", "bars", "gives", "takes", "ratio_with")),
        ("fallback", ("needs", "bars")),
        ("reading", ("needs", "bars")),
    ):
        for number, item in enumerate(getattr(scenario, section)):
            for name in names:
                value = getattr(item, name)
                for place, mark in enumerate(value):
                    step = mark if isinstance(value, dict) else place
                    yield mark, (section, number, name, step)


def _first_uses(scenario: Scenario) -> dict[str, Path]:
    """Every mark and where it is named first."""
    first: dict[str, Path] = {}
    for mark, path in _uses(scenario):
        first.setdefault(mark, path)
    return first


def _alike(scenario: Scenario) -> dict[str, str]:
    """Marks that may be a misspelling of another: of one built in, held now or given before all."""
    known = [ATTACHED, DAMAGED_TOP, *map(made, range(1, len(scenario.run) + 1))]
    sources = [*scenario.fish.marks, *(mark for run in scenario.run for mark in run.gives)]
    alike = {}
    for mark in dict.fromkeys([*sources, *_first_uses(scenario)]):
        if mark in known or re.match(MADE, mark):
            continue
        near = [o for o in known if plain(o) == plain(mark) or one_letter_apart(mark, o)]
        if near:
            alike[mark] = near[0]
        else:
            known.append(mark)
    return alike
