"""Working interests: the gross of each amount, and the net of every partner to the cent.

net = gross x interest, to the cent; the operator (else the largest interest) takes what is
left of the gross, so that the nets sum to it
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from econ.decision import Answer
from econ.reports.supplement.cells import (
    Cell,
    Term,
    absolute,
    below,
    block,
    sum_of,
    to_cents,
    total,
    when,
)

SUM_OF_ONE = 2e-6  # interests that miss a sum of 1 by less are taken to sum to it
SHARED = {
    "stage_1_asked_for": "Stage 1, asked for",
    "stage_2_if_needed": "Stage 2, if needed",
    "expected_call": "Expected call",
    "change_of_the_authority": "Change of the authority",
    "revised_total": "Revised total",
}
NOT_SHARED = "-"  # instead of a net while the interests do not sum to 1


@dataclass(frozen=True)
class Partner:
    """A partner: name, role, interest, and the net of each gross amount."""

    name: str
    role: str
    interest: Cell
    nets: tuple[Cell, ...]


@dataclass(frozen=True)
class Shares:
    """What is shared, by name and gross to the cent; the partners; the sums of their columns."""

    names: tuple[str, ...]
    gross: tuple[Cell, ...]
    partners: tuple[Partner, ...]
    interests: Cell
    sums: tuple[Cell, ...]
    complete: Cell

    @property
    def words(self) -> tuple[str, ...]:
        """What is shared, in words."""
        return tuple(SHARED[name] for name in self.names)


def shares(answer: Answer, amounts: Mapping[str, Term]) -> Shares:
    """The shares of the partners in `amounts`, by name."""
    gross = tuple(Cell(to_cents(amount)) for amount in amounts.values())
    partners = answer.scenario.partner
    stated = [each.interest for each in partners]
    percent = sum(stated) > 50  # the file gives 1, or 100 percent
    interests = [Cell(each / 100 if percent else each, is_input=True) for each in stated]
    together = Cell(total(block(interests)))
    complete = below(absolute(together - 1), SUM_OF_ONE)
    if not partners:
        return Shares(tuple(amounts), gross, (), together, (), Cell("no partner is named"))
    operators = [number for number, each in enumerate(partners) if each.operator]
    largest = max(range(len(partners)), key=lambda number: stated[number])
    last = operators[0] if operators else largest
    nets: list[list[Cell]] = [[] for _ in partners]
    for amount in gross:
        others = {
            number: Cell(when(complete, to_cents(amount * interest), NOT_SHARED))
            for number, interest in enumerate(interests)
            if number != last
        }
        left: Term = to_cents(amount - sum_of(others.values())) if others else amount
        own = Cell(when(complete, left, NOT_SHARED))
        for number in range(len(partners)):
            nets[number].append(own if number == last else others[number])
    return Shares(
        names=tuple(amounts),
        gross=gross,
        partners=tuple(
            Partner(each.name, _role(each.operator, number == last), interest, tuple(net))
            for number, (each, interest, net) in enumerate(
                zip(partners, interests, nets, strict=True)
            )
        ),
        interests=together,
        sums=tuple(Cell(total(block(net[column] for net in nets))) for column in range(len(gross))),
        complete=Cell(when(complete, "interests sum to 100 %", "INTERESTS DO NOT SUM TO 100 %")),
    )


def _role(operator: bool, last: bool) -> str:
    words = "operator" if operator else ""
    return f"{words}, takes the rest of a cent".lstrip(", ") if last else words
