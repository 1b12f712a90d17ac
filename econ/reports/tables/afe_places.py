"""What the fallback costs from each place where it may start, as formulas.

    cost of a sidetrack   (hours + n hours of a retry + a hours of a whipstock)/24
                          x (spread + directional day) + plugs, bits, sums
                          + chance of sticking again x its cost + share x lost in hole
    n  mean number of further plugs: q/(1 - q), with a whipstock after m of them
       q (1 - q^(m-1))/(1 - q)
    a  mean number of attempts with it: q^m/(1 - its own chance to fail)

as in `econ.job.bill`. Of several fallbacks the cheapest that is open is taken.
"""

from __future__ import annotations

from dataclasses import dataclass

from econ.decision.detail.paths import Paths
from econ.decision.detail.places import Place
from econ.reports.tables.afe_inputs import FallbackInputs, Inputs
from econ.reports.tables.formula import (
    Block,
    Cell,
    Term,
    block,
    least,
    place_of,
    product_sum,
    sum_of,
    total,
)

CLOSED = 1e15  # cost of a fallback that is not open: never the least


@dataclass(frozen=True)
class FallbackSums:
    """What a fallback needs besides the place: `retries` n, `attempts` a, `day` rate, expected
    `hours` from the present fish top, `fixed` money; None where it is a lump."""

    given: FallbackInputs
    retries: Cell
    attempts: Cell
    day: Cell
    hours: Cell
    fixed: Cell


@dataclass(frozen=True)
class PlaceRow:
    """A place. number: from 1; left: share of each piece owed for; by fallback: hours more than
    from the present fish top, the same of a retry, bit trips, cost; taken: number of the
    fallback, from 1; owed: for a string that a log tells of."""

    place: Place
    number: Cell
    left: tuple[Cell, ...]
    lost: Cell
    more_hours: tuple[Cell, ...]
    more_retry_hours: tuple[Cell, ...]
    bit_trips: tuple[Cell, ...]
    costs: tuple[Cell, ...]
    least: Cell
    taken: Cell
    owed: Cell
    bill: Cell


def fallback_sums(given: Inputs) -> tuple[FallbackSums, ...]:
    """The sums of every fallback."""
    return tuple(_sums(each, given.spread) for each in given.fallbacks)


def _sums(each: FallbackInputs, spread: Cell) -> FallbackSums:
    items = total(block(item.cell for item in each.hours))
    if not each.sidetrack:
        return FallbackSums(
            given=each,
            retries=Cell(0.0),
            attempts=Cell(0.0),
            day=Cell(spread),
            hours=Cell(items),
            fixed=Cell(
                each["cost"]
                + each["value_given_up"]
                + each["trouble.chance"] * each["trouble.cost"]
            ),
        )
    q = each["kickoff_failure"]
    retries, attempts = q / (1 - q), Cell(0.0)
    whipstock: Term = attempts
    if "whipstock.after" in each.amounts:
        m = each["whipstock.after"]
        retries = q * (1 - q ** (m - 1)) / (1 - q)
        attempts = Cell(q**m / (1 - each["whipstock.failure"]))
        whipstock = attempts * each["whipstock.hours"]
    found = Cell(retries)
    fixed = (
        each["plug_cost"] * (each["plugs"] + found)
        + each["bit_cost"]
        + each["mobilization"]
        + each["logging_cost"]
        + each["other_cost"]
        + each["stick_again.chance"] * each["stick_again.cost"]
    )
    hours = items + found * each["retry_hours"]
    if "whipstock.after" in each.amounts:
        fixed = fixed + attempts * each["whipstock.cost"]
        hours = hours + whipstock
    return FallbackSums(
        given=each,
        retries=found,
        attempts=attempts,
        day=Cell(spread + each["directional_day"]),
        hours=Cell(hours),
        fixed=Cell(fixed),
    )


def places(means: Paths, sums: tuple[FallbackSums, ...], owed: Block) -> tuple[PlaceRow, ...]:
    """A row for every place. owed: for each piece, beside one another as the shares are."""
    rows = []
    for number, place in enumerate(means.places, start=1):
        left = tuple(Cell(share) for share in place.left)
        lost = Cell(product_sum(block(left), owed) if left else 0.0)
        more = tuple(Cell(hours) for hours in place.more_hours)
        retry = tuple(Cell(hours) for hours in place.more_retry_hours)
        trips = tuple(Cell(count) for count in place.bit_trips)
        costs = []
        for j, each in enumerate(sums):
            share = each.given["lost_in_hole_share"]
            if not place.open[j]:
                costs.append(Cell(CLOSED))
            elif each.given.sidetrack:
                hours = each.hours + more[j] + each.retries * retry[j]
                bits = each.given["bit_cost"] * trips[j]
                costs.append(Cell(hours / 24 * each.day + each.fixed + bits + share * lost))
            else:
                costs.append(Cell(each.hours / 24 * each.day + each.fixed + share * lost))
        cheapest = Cell(least(block(costs)) if len(costs) > 1 else costs[0])
        string = Cell(place.owed)
        rows.append(
            PlaceRow(
                place=place,
                number=Cell(float(number)),
                left=left,
                lost=lost,
                more_hours=more,
                more_retry_hours=retry,
                bit_trips=trips,
                costs=tuple(costs),
                least=cheapest,
                taken=Cell(place_of(cheapest, block(costs)) if len(costs) > 1 else 1.0),
                owed=string,
                bill=Cell(sum_of([cheapest, string])),
            )
        )
    return tuple(rows)
