"""Who pays which share of what: working interests of a job, and of its fallback.

A partner who declines the fallback pays nothing of it; the parts of its interest that the file
says are carried by others. With f_j the interests, d the partners who decline, and k_ij the part
of j's interest that i carries,

    g_i = 0 for i in d,      g_i = f_i + sum over j in d of k_ij f_j for the others

What a partner who declines gives up, and what whoever carries it may get, is in the agreement and
not here: penalties are no part of these sums.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from econ.engine.ledger import LINES
from econ.scenario import Scenario
from econ.scenario.framed import Framed

if TYPE_CHECKING:
    from econ.decision.answer import Answer

NOT_SPENT = "value_given_up"  # a line of the ledger


@dataclass(frozen=True, repr=False)
class Interests(Framed):
    """Names of the partners in the order of the file, the number of the operator, None without
    one, and their interests in fishing and in the fallback, which each sum to 1."""

    names: tuple[str, ...]
    operator: int | None
    fishing: tuple[float, ...]
    fallback: tuple[float, ...]

    @property
    def differ(self) -> bool:
        """Whether somebody declines the fallback."""
        return self.fishing != self.fallback


def interests(scenario: Scenario) -> Interests:
    """The interests of a scenario; none where it names no partner.

    >>> import econ
    >>> interests(econ.load("scenarios/point/a_land_twist_off.toml")).fishing
    (0.625, 0.25, 0.125)
    """
    partners = scenario.partner
    stated = [Fraction(str(each.interest)) for each in partners]
    whole = sum(stated)
    fishing = [each / whole for each in stated]
    fallback = list(fishing)
    for number, each in enumerate(partners):
        if each.declines_fallback:
            fallback[number] = Fraction(0)
    names = [each.name for each in partners]
    for number, each in enumerate(partners):
        if each.declines_fallback:
            carried = {name: Fraction(str(part)) for name, part in each.carried_by.items()}
            for name, part in carried.items():
                more = fishing[number] * part / sum(carried.values())
                fallback[names.index(name)] += more
    operator = next((number for number, each in enumerate(partners) if each.operator), None)
    return Interests(
        tuple(names), operator, tuple(map(float, fishing)), tuple(map(float, fallback))
    )


@dataclass(frozen=True, repr=False)
class NetCurve(Framed):
    """What a partner pays of every limit [currency], mean, and the limit that is cheapest for it;
    gross: the same of all. Penalties, and what other partners give up, are left out."""

    name: str
    net: tuple[float, ...]
    gross: tuple[float, ...]
    best: int
    best_gross: int


def net_curve(answer: Answer, *, partner: int) -> NetCurve:
    """The cost of every limit to one partner, by its number in the file from 0.

    What is paid until the fish is out or fishing stops goes by the interest in fishing, and so does
    the value of a well that is given up; the fallback goes by that in the fallback.
    """
    own = interests(answer.scenario)
    fishing, fallback = own.fishing[partner], own.fallback[partner]
    net = []
    for taken in answer.quantities:
        paid = sum(
            (fallback if part == "fallback" and name != NOT_SPENT else fishing)
            * taken.expected[name]
            for name, part in LINES.items()
        )
        net.append(paid)
    gross = tuple(row.expected_cost for row in answer.by_runs)
    made = sum(row.run < len(answer.scenario.run) for row in answer.log)
    least = min(max(answer.scenario.minimum_runs - made, 0), len(net) - 1)
    best = min(range(least, len(net)), key=lambda runs: (net[runs], runs))
    return NetCurve(own.names[partner], tuple(net), gross, best, answer.best)
