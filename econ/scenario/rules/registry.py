"""Where rules between keys of a scenario are registered."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from econ.scenario.faults import Fault
from econ.scenario.scenario import Scenario

Rule = Callable[[Scenario], Iterator[Fault]]
RULES: list[tuple[frozenset[str], Rule]] = []


def rule(*sections: str) -> Callable[[Rule], Rule]:
    """Register a rule that reads `sections`."""

    def register(function: Rule) -> Rule:
        RULES.append((frozenset(sections), function))
        return function

    return register
