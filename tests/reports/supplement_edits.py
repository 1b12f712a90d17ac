"""Edits of a workbook and what the program makes of them: `decision.hold`, which shares no sum with
the sheet. For the tests of the workbook and for the long run under tests/benchmarks."""

from __future__ import annotations

import functools
import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from supplement_recompute import Values, value_of, with_inputs, with_wrong_values

from econ.decision import Answer
from econ.decision.hold import Held, Issued, hold
from econ.engine.priced import Key
from econ.reports.supplement import Supplement, supplement
from econ.reports.supplement.book import Book
from econ.reports.supplement.cells import Cell
from econ.reports.supplement.estimate import Price
from econ.reports.supplement.workbook import book
from econ.scenario.scenario import Scenario

WITHIN = 0.01  # [currency]


@dataclass
class Issue:
    """A supplement, its layout and its file."""

    found: Supplement
    book: Book
    data: bytes

    @classmethod
    def of(cls, answer: Answer) -> Issue:
        """The supplement of an answer."""
        found = supplement(answer)
        laid = book(found)
        return cls(found, laid, laid.bytes())

    def typed(self, changes: Mapping[Cell, Any]) -> bytes:
        """The file with some cells typed over and every formula's value wrong on purpose."""
        return with_inputs(self._spoilt, self.book, changes)

    @functools.cached_property
    def _spoilt(self) -> bytes:
        return with_wrong_values(self.data)


@dataclass(frozen=True)
class Edit:
    """Prices that are typed, by their keys, and the limit if that is typed too."""

    prices: Mapping[Key, float]
    limit: int | None = None

    def cells(self, issue: Issue) -> dict[Cell, float | str]:
        """What is typed into the sheet."""
        by_key = {price.key: price.cell for price in issue.found.estimate.prices}
        typed: dict[Cell, float | str] = {by_key[key]: value for key, value in self.prices.items()}
        if self.limit is not None:
            typed[issue.found.estimate.limits.limit] = float(self.limit)
        return typed

    def held(self, answer: Answer) -> Held:
        """What the program makes of it."""
        return hold(Issued.of(answer), changed(answer.scenario, self.prices))


def changed(scenario: Scenario, prices: Mapping[Key, float]) -> Scenario:
    """The scenario with numbers for some prices."""
    raw: Any = scenario.model_dump(by_alias=True, exclude_unset=True)
    for key, value in prices.items():
        place = raw
        for step in key[:-1]:
            place = place[step] if isinstance(step, int) else place.setdefault(step, {})
        place[key[-1]] = value
    return Scenario.model_validate(raw, by_alias=True, by_name=False)


def another(price: Price, dice: random.Random) -> float:
    """Another value of a price."""
    if price.unit == "share":
        return round(dice.random(), 3)
    if price.cell.number == 0:
        return round(dice.uniform(100, 9_000), 2)
    return round(price.cell.number * dice.uniform(0.2, 4.0), 2)


def edits(issue: Issue, dice: random.Random, *, pairs: int) -> Iterator[tuple[str, Edit]]:
    """Every price alone, all at once, and random pairs."""
    prices = issue.found.estimate.prices
    for price in prices:
        yield f"alone {price.key}", Edit({price.key: another(price, dice)})
    yield "all", Edit({price.key: another(price, dice) for price in prices})
    for number in range(pairs):
        both = dice.sample(list(prices), 2)
        yield f"pair {number}", Edit({price.key: another(price, dice) for price in both})


def gaps(issue: Issue, edit: Edit, values: Values) -> list[str]:
    """Where a recomputed sheet is not what the program gives, beyond a hundredth."""
    held, parts = edit.held(issue.found.answer), issue.found.estimate
    call = held.calls[held.runs if edit.limit is None else edit.limit]
    wanted: list[tuple[str, Cell, float]] = []
    for own, shown in zip(call.slices, issue.found.ask.slices, strict=True):
        for name in ("chance", "planned", "mean", "expected"):
            wanted.append((f"{own.slice} {name}", getattr(shown, name), getattr(own, name)))
    wanted.append(("expected call", issue.found.ask.expected_call, call.expected_call))
    first, out, fallback = call.slices
    second = fallback if issue.found.ask.slices[2].chance.number > 0 else out
    share = issue.found.answer.scenario.afe.price_contingency
    asked = (first.planned + second.mean) * (1 + share)
    ask = value_of(values, issue.book, issue.found.ask.granted.ask)
    bad = []
    # two slices and the contingency, each in whole units; what stands by hand follows the spread
    by_hand = value_of(values, issue.book, issue.found.by_hand)
    if ask != int(ask) or abs(ask - asked - by_hand) > 1.5 + WITHIN:
        bad.append(f"asked: {ask!r}, not {asked + by_hand!r} in whole units")
    for limit, cost in enumerate(parts.limits.cost):
        given_up = held.quantities[limit].expected["value_given_up"]
        wanted.append((f"limit {limit}", cost, held.calls[limit].expected_call + given_up))
    for name, cell, number in wanted:
        value = value_of(values, issue.book, cell)
        if not isinstance(value, (int, float)) or abs(value - number) > WITHIN:
            bad.append(f"{name}: {value!r}, not {number!r}")
    return bad
