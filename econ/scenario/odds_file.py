"""The file of odds from past jobs that `econ odds` writes and a scenario takes by `odds_from`.

    schema = 1
    source = "jobs.csv"            # the records, and their counts
    jobs, runs, recovered, lost, stopped
    rows_not_taken, jobs_not_taken # of the table, beside these
    prior = { weight, origin }                            # what the odds lean on beside the records
    workable = { mean, weight, low, high }                # share of workable fish
    [odds_ratio_per_day]  median, factor, low, high, jobs # only where the records carry it
    [seen]                # ranges and words of the records, in ft, in and degrees
    [kind.overshot]       # one for each kind of run
    runs, jobs, recovered
    odds = { outcomes, weight, low, high }                # on all fish together
    workable = { ... }                                    # and by kind of fish
    stubborn = { ... }
low and high are the 95 % interval of recovered. Checked as strictly as a scenario. Older files have
no prior and no count of what was not taken, and workable and the tables by kind of fish only where
the records told them apart.
"""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass, replace
from typing import Annotated, Literal, TypeVar

from pydantic import BaseModel, BeforeValidator, Field, ValidationError, model_validator
from pydantic_core import PydanticCustomError

from econ.scenario.amounts import Finite, Positive
from econ.scenario.base import Section, key
from econ.scenario.evidence import Seen, Whole
from econ.scenario.faults import Fault, ScenarioError, in_words
from econ.scenario.lines import key_lines
from econ.scenario.program import OutcomeOdds, RunKind
from econ.scenario.scenario import version_one
from econ.scenario.toml_text import document, read_text

LONGEST_NAME = 200  # of a file, in a message
Fraction = Annotated[Finite, Field(ge=0, le=1)]


class Known(Section):
    """A chance with what it rests on."""

    mean: Fraction = key("The chance")
    weight: Positive = key("Cases it is worth")
    low: Fraction = key("Lower end of the 95 % interval")
    high: Fraction = key("Upper end")


class PriorRuns(Section):
    """What the odds lean on where the records are thin."""

    weight: Positive = key("Runs of each kind that it counts")
    origin: Annotated[str, Field(min_length=1, max_length=200)] = key("What it is, and its source")


class PerDayFactor(Section):
    """Factor on the odds of recovery for each day elapsed."""

    median: Positive = key("The factor")
    factor: Annotated[Finite, Field(ge=1, le=1e6)] = key("P90 is median x factor")
    low: Annotated[Finite, Field(ge=0)] = key("Lower end of the 95 % interval")
    high: Annotated[Finite, Field(ge=0)] = key("Upper end")
    jobs: Whole = key("Jobs it rests on")


class RecordedOdds(OutcomeOdds):
    """Odds of the seven outcomes from records."""

    weight: Positive = key("Runs they are worth")
    low: Fraction = key("Lower end of the 95 % interval of recovered")
    high: Fraction = key("Upper end")


class RecordedKind(Section):
    """A kind of run in the records."""

    runs: Whole = key("Runs of this kind")
    jobs: Whole = key("Jobs they were made in")
    recovered: Whole = key("Runs that recovered the fish")
    odds: RecordedOdds = key("Odds on all fish together")
    workable: RecordedOdds | None = key("Odds on a workable fish", None)
    stubborn: RecordedOdds | None = key("Odds on a stubborn fish", None)

    @model_validator(mode="after")
    def _both(self) -> RecordedKind:
        if (self.workable is None) != (self.stubborn is None):
            raise PydanticCustomError(
                "both_kinds",
                "{given}",
                {
                    "given": "one of workable and stubborn",
                    "allowed": "both or neither",
                    "suggestion": "write the file again with econ odds",
                },
            )
        return self


class OddsFile(Section):
    """Odds from past jobs as a file holds them."""

    schema_: Annotated[Literal[1], BeforeValidator(version_one)] = key(
        "Version of the format", alias="schema"
    )
    source: Annotated[str, Field(min_length=1, max_length=100)] = key("File of the records")
    jobs: Whole = key("Jobs in it")
    runs: Whole = key("Runs in it")
    recovered: Whole = key("Jobs that recovered the fish")
    lost: Whole = key("Jobs that ended with a lost string or hole")
    stopped: Whole = key("Jobs stopped, censored")
    rows_not_taken: Whole | None = key("Rows of the records that were not taken", None)
    jobs_not_taken: Whole | None = key("Jobs of which no row was taken", None)
    prior: PriorRuns | None = key("What the odds lean on beside the records", None)
    workable: Known | None = key("Share of workable fish", None)
    odds_ratio_per_day: PerDayFactor | None = key("Factor for each day elapsed", None)
    seen: Seen = key("What sort of jobs the records hold", Seen())
    kind: dict[RunKind, RecordedKind] = key("The kinds of run", default={})


@dataclass(frozen=True)
class OddsFileFault(Fault):
    """One thing wrong with a file of odds that a scenario names."""

    file: str = ""

    def __str__(self) -> str:
        bare = Fault(self.given, self.allowed, self.suggestion, self.path, self.line)
        return f"{self.file}: {bare}"


def read_odds_file(path: str | os.PathLike[str]) -> OddsFile:
    """The odds in the file at `path`; ScenarioError with every fault, each naming the file."""
    return read_named(path, OddsFile, "econ odds RECORDS.csv --out FILE writes one")


File = TypeVar("File", bound=BaseModel)


def read_named(path: str | os.PathLike[str], form: type[File], missing: str) -> File:
    """What a file that a scenario names holds, by its form; ScenarioError with every fault, each
    naming the file. missing: what to do where there is none."""
    name = ascii(str(path))[1:-1]
    try:
        mode = os.stat(path).st_mode
        plain = stat.S_ISREG(mode) or stat.S_ISDIR(mode)
    except (OSError, ValueError):
        plain = True  # the reader says what is wrong
    if not plain:
        raise ScenarioError([_named(Fault("no plain file", "a plain file"), name)])
    try:
        text = read_text(path)
        raw = document(text)
    except ScenarioError as error:
        gone = isinstance(error.__context__, FileNotFoundError)
        faults = [replace(each, suggestion=missing) if gone else each for each in error.faults]
        raise ScenarioError([_named(each, name) for each in faults]) from None
    try:
        return form.model_validate(raw, by_alias=True, by_name=False)
    except ValidationError as error:
        lines = key_lines(text)
        found = [in_words(each, lines, root=form) for each in error.errors()]
        raise ScenarioError([_named(each, name) for each in found]) from None


def _named(fault: Fault, name: str) -> OddsFileFault:
    file = f"...{name[-LONGEST_NAME:]}" if len(name) > LONGEST_NAME else name
    given = (
        fault.given if len(fault.given) < 2 * LONGEST_NAME else fault.given[:LONGEST_NAME] + "..."
    )
    return OddsFileFault(given, fault.allowed, fault.suggestion, fault.path, fault.line, file)
