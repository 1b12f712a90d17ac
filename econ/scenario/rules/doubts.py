"""Rules on doubts: each has one name and one chance, and what names a doubt names one listed."""

from __future__ import annotations

from collections.abc import Iterator

from econ.scenario.faults import Fault, did_you_mean
from econ.scenario.lines import Path
from econ.scenario.marks import plain
from econ.scenario.rules.registry import rule
from econ.scenario.scenario import Scenario


@rule("doubt")
def doubts_have_names_of_their_own(scenario: Scenario) -> Iterator[Fault]:
    """No two doubts have one name, capitals and underscores aside."""
    before: dict[str, int] = {}
    for number, doubt in enumerate(scenario.doubt):
        first = before.setdefault(plain(doubt.name), number)
        if first != number:
            yield Fault(
                f"'{doubt.name}', the name of doubt {first + 1} as well",
                "a name for each doubt, capitals and underscores aside",
                "rename one, or join the two",
                path=("doubt", number, "name"),
            )


@rule("reading")
def readings_have_names_of_their_own(scenario: Scenario) -> Iterator[Fault]:
    """A plan and a log name readings, where runs have numbers."""
    before: set[str] = set()
    for number, reading in enumerate(scenario.reading):
        name = reading.name
        if name == "stop" or name.isdigit() or name in before:
            yield Fault(
                f"'{name}', as the name of a reading",
                "a name of its own for each reading, no number and not stop",
                "give it another name",
                path=("reading", number, "name"),
            )
        before.add(name)


@rule("fishing", "doubt")
def one_place_for_the_chance(scenario: Scenario) -> Iterator[Fault]:
    """With doubts of its own, a file gives no chance under [fishing] besides."""
    if scenario.doubt and "workable" in scenario.fishing.model_fields_set:
        yield Fault(
            "workable, beside [[doubt]]",
            "a chance in one place: workable of each [[doubt]], or this key without any doubt",
            "take it out here",
            path=("fishing", "workable"),
        )


@rule("fishing", "doubt", "run", "reading")
def doubts_named_are_listed(scenario: Scenario) -> Iterator[Fault]:
    """Runs depend on, runs renew, and readings are about, doubts of the file."""
    known = [doubt.name for doubt in scenario.doubts]
    named: list[tuple[str, Path]] = []
    for number, run in enumerate(scenario.run):
        here: Path = ("run", number)
        for place, name in enumerate(run.depends_on or []):
            named.append((name, (*here, "depends_on", place)))
        named += [(name, (*here, "renews", name)) for name in run.renews]
    for number, reading in enumerate(scenario.reading):
        if reading.about is not None:
            named.append((reading.about, ("reading", number, "about")))
        elif len(known) > 1:
            yield Fault(
                "no doubt that it reads",
                f"one of {', '.join(known)}, because the file has several doubts",
                'such as about = "' + known[0] + '"',
                path=("reading", number, "about"),
            )
    words = ", ".join(known) or "there is none in this file, because no run gives odds by kind"
    for name, path in named:
        if name not in known:
            yield Fault(
                f"'{name}'", f"names of doubts: {words}", did_you_mean(name, known), path=path
            )
