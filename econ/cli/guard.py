"""Bad input at the command line: every fault on stderr, exit code 2, nothing computed."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

from econ.cli.exits import BAD_INPUT
from econ.cli.terminal import say

if TYPE_CHECKING:
    from econ.scenario import Scenario, ScenarioError

T = TypeVar("T")
MOST_FAULTS = 100  # lines of faults printed; the rest is counted


def load_scenario(file: str, changes: tuple[str, ...], *, need_odds: bool = True) -> Scenario:
    """Scenario in `file` with the `changes` of --set, or its faults and the end.

    A change that adds a name, such as a rate, is allowed and yet may be a slip: it is noted.
    """
    return load_variants(file, changes, need_odds=need_odds)[0]


def load_variants(
    file: str, *changes: tuple[str, ...], need_odds: bool = True
) -> tuple[Scenario, ...]:
    """The scenario in `file` once with each of the sets of `changes`; see `load_scenario`.

    The file is read once, because a pipe can be read no second time.
    """
    from econ.scenario.load import Variants, folder_of, parse, read_text

    text = guard(lambda: read_text(file))
    folder = folder_of(file)

    def parsed(made: tuple[str, ...]) -> Scenario:
        return guard(lambda: parse(text, made, folder=folder, need_odds=need_odds))

    scenarios = tuple(parsed(made) for made in changes)
    added = {change.partition("=")[0].strip(): None for made in changes for change in made}
    if added:
        variants = Variants(text, folder=folder)
        for key in added:
            like = variants.new_name(key)
            if like is not None:
                adds = f"--set {ascii(key)[1:-1]} adds an amount that the file does not have"
                say(f"note: {adds}{'; ' if like else ''}{like}", err=True)
    return scenarios


def guard(work: Callable[[], T]) -> T:
    """Do the work; print the faults of bad input and end with exit code 2."""
    from econ.scenario import ScenarioError

    try:
        return work()
    except ScenarioError as error:
        print_faults(error)
        sys.exit(BAD_INPUT)


def print_faults(error: ScenarioError) -> None:
    """The faults one a line, the first hundred of them, and their number."""
    for fault in error.faults[:MOST_FAULTS]:
        say(str(fault), err=True)
    count = len(error.faults)
    if count > MOST_FAULTS:
        say(f"... and {count - MOST_FAULTS} more", err=True)
    say(f"{count} fault{'s' if count > 1 else ''}; nothing was computed or written", err=True)
