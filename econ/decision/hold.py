"""Prices of a changed scenario under a decision that has been issued.

What is held: the draws, the limit in runs, which fallback is taken in which state, and which side
of the greater-of of a rental binds in each draw. What is changed: the numbers of the scenario. A
range that becomes a number leaves all other points where they were, and its correlation lapses.
A changed structure (another run, fallback, piece, rental, word or condition, or a range where a
number was) is a fault: then the job has to be decided anew.

An issue is kept as JSON: the scenario and the log as they were, and the decision.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from pydantic import TypeAdapter, ValidationError

from econ.decision.answer import Answer
from econ.decision.authority import Call, call
from econ.decision.figures import slices
from econ.decision.quantities import Quantities, quantities
from econ.decision.run_log import from_now, happened
from econ.decision.whatif import flat_keys
from econ.engine.case import Case
from econ.engine.curves import Tally
from econ.engine.inputs import Inputs
from econ.scenario import Fault, ScenarioError
from econ.scenario.distributions import Distribution
from econ.scenario.run_log import LoggedRun
from econ.scenario.scenario import Scenario

KIND = "issued supplement"
FORMAT = 1
# What the walk reads. The rest of a file (papers, partners, seed, remarks) may change freely.
HELD = (
    *("units", "currency", "rates", "trip_speed", "well", "fishing", "fish", "doubt", "run"),
    *("recovery", "common", "fallback", "rental", "reading", "parting", "weather", "deadline"),
)

REMARKS = ("origin", "note", "owner", "clause")  # of a run, doubt or piece: words that bind nothing


@dataclass(frozen=True)
class Issued:
    """A decision that has been issued: scenario and log, limit [runs], draws of each scramble."""

    scenario: Scenario
    log: tuple[LoggedRun, ...]
    runs: int
    draws: int

    @classmethod
    def of(cls, answer: Answer) -> Issued:
        """What an answer decides: its best limit."""
        return cls(answer.scenario, answer.log, answer.best, answer.draws)

    def document(self) -> dict[str, Any]:
        """The issue as JSON can hold it."""
        return {
            "kind": KIND,
            "format": FORMAT,
            "decision": {"by": "limit", "runs": self.runs, "draws": self.draws},
            "scenario": self.scenario.model_dump(mode="json", by_alias=True, exclude_unset=True),
            "log": TypeAdapter(list[LoggedRun]).dump_python(list(self.log), mode="json"),
        }

    @classmethod
    def read(cls, text: str) -> Issued:
        """An issue from its JSON; ScenarioError where it is none."""
        try:
            found = json.loads(text)
            if found["kind"] != KIND or found["format"] != FORMAT:
                raise ValueError
            decision = found["decision"]
            return cls(
                Scenario.model_validate_json(
                    json.dumps(found["scenario"]), by_alias=True, by_name=False
                ),
                tuple(TypeAdapter(list[LoggedRun]).validate_python(found["log"])),
                int(decision["runs"]),
                int(decision["draws"]),
            )
        except (ValueError, KeyError, TypeError, ValidationError):
            allowed = "a .json file that econ afe has written with --out"
            hint = "write it when the supplement is issued"
            raise ScenarioError([Fault("no issued supplement", allowed, hint)]) from None


@dataclass(frozen=True)
class Held:
    """A changed scenario under an issue: the slices and the quantities of every limit, and the
    limit in force [runs]."""

    scenario: Scenario
    runs: int
    calls: tuple[Call, ...]
    quantities: tuple[Quantities, ...]

    @property
    def call(self) -> Call:
        """The slices at the limit in force."""
        return self.calls[self.runs]


def hold(issued: Issued, changed: Scenario) -> Held:
    """The changed scenario at the decision of an issue; ScenarioError where its structure is
    another one.

    >>> import econ
    >>> name = "scenarios/point/c_bit_cones.toml"
    >>> issue = Issued.of(econ.answer(econ.load(name)))
    >>> f"{hold(issue, issue.scenario).call.expected_call:,.0f}"
    '484,031'
    """
    if faults := list(differences(issued.scenario, changed)):
        raise ScenarioError(faults)
    draws = issued.scenario.draws.model_copy(update={"n": issued.draws})
    logged = happened(issued.scenario, issued.log)
    at_issue, now = (
        from_now(scenario.model_copy(update={"draws": draws}), issued.log)
        for scenario in (issued.scenario, changed)
    )
    now = now.model_copy(update={"correlation": at_issue.correlation})
    before = Inputs(at_issue, logged=logged)
    inputs = _HeldInputs(now, before)
    tally = Tally(inputs, chosen=before)
    tally.extend(issued.draws)
    found = tally.curves()
    case = inputs.pilot()
    return Held(
        changed,
        issued.runs,
        tuple(call(slices(found, runs), runs) for runs in range(found.cost.shape[1])),
        quantities(
            found,
            program=case.program,
            fallbacks=[each.name for each in changed.fallback],
            last=logged[-1].run if logged else None,
        ),
    )


class _HeldInputs(Inputs):
    """Inputs on the points of an issue, with the terms of its rentals that bind."""

    def __init__(self, scenario: Scenario, issued: Inputs) -> None:
        super().__init__(scenario, logged=issued.logged, beside=issued.names)
        self._issued = issued

    def pilot(self) -> Case:
        return self._bound(super().pilot(), self._issued.pilot())

    def blocks(self, start: int, stop: int) -> Iterator[Case]:
        pairs = zip(super().blocks(start, stop), self._issued.blocks(start, stop), strict=True)
        for case, issued in pairs:
            yield self._bound(case, issued)

    def _bound(self, case: Case, issued: Case) -> Case:
        pairs = zip(case.contracts, issued.contracts, strict=True)
        contracts = [replace(own, held=other, least=other.least) for own, other in pairs]
        return replace(case, contracts=contracts)


def differences(issued: Scenario, changed: Scenario) -> Iterator[Fault]:
    """Where the structure of a changed scenario is not that of an issue."""
    one, other = (
        {
            key: value
            for key, value in flat_keys(each)
            if key.split(".")[0] in HELD and key.split(".")[-1] not in REMARKS
        }
        for each in (issued, changed)
    )
    for key in dict.fromkeys([*one, *other]):
        before, after = one.get(key), other.get(key)
        if before == after:
            continue
        if _number(after) and (_number(before) or isinstance(before, Distribution)):
            continue
        if isinstance(after, Distribution) and isinstance(before, Distribution):
            continue
        given = (
            "a range where the issue has a number"
            if isinstance(after, Distribution)
            else ("another structure than that of the issue")
        )
        yield Fault(
            given,
            "the runs, fallbacks, pieces, rentals, words and conditions of the issue, with "
            "other numbers",
            "run econ afe without --hold: the job has to be decided anew",
            path=(key,),
        )


def _number(value: object) -> bool:
    return value is None or (isinstance(value, (int, float)) and not isinstance(value, bool))
