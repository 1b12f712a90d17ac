"""The forecast of trouble by cost code: what the means of both stages are made of.

Each line is a sum of the workings at the limit asked for, times the program's mean of its cause
over what the formulas give for the inputs of the file, and all lines of a stage are then scaled
to the mean of the stage, so that they always sum to it. In the file's own case that scale is 1
and the lines of a cause sum to that cause in the table of causes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from econ.decision import Answer
from econ.decision.detail.paths import Paths
from econ.reports.tables.afe_inputs import FallbackInputs, Inputs
from econ.reports.tables.afe_model import Model
from econ.reports.tables.afe_places import FallbackSums
from econ.reports.tables.figures import CAUSE_WORDS, causes
from econ.reports.tables.formula import (
    Cell,
    Operand,
    Term,
    block,
    over,
    product_sum,
    sum_of,
    total,
    when,
)

NOT_SPENT = "value_given_up"  # a cause that is compared, and not an expenditure


@dataclass(frozen=True)
class Share:
    """A part of a stage by formula, its cause, the factor of that cause, and the two multiplied;
    value: what it is of the stage. code: empty for what is not spent."""

    code: str
    cause: str
    stage: int
    formula: Cell
    factor: Cell
    adjusted: Cell
    value: Cell


@dataclass(frozen=True)
class FallbackDays:
    """Of each fallback at the limit asked for: chance that it is taken, days of it without
    retries, mean hours of its retries and attempts with a whipstock, bits, and lost value."""

    chance: Cell
    days: Cell
    retry_hours: Cell
    whipstock_hours: Cell
    bits: Cell
    lost: Cell


@dataclass(frozen=True)
class Split:
    """Both stages by code, and what the fallbacks need for it; scales: mean of each stage over
    the sum of its lines."""

    stage_1: Cell
    stage_2: Cell
    scales: tuple[Cell, Cell]
    fallbacks: tuple[FallbackDays, ...]
    shares: tuple[Share, ...]

    def of_stage(self, stage: int) -> list[Share]:
        """The shares of a stage."""
        return [each for each in self.shares if each.stage == stage]


def split(answer: Answer, means: Paths, given: Inputs, found: Model) -> Split:
    """Both stages of an answer by code."""
    days = tuple(_fallback_days(given, found, j) for j in range(len(given.fallbacks)))
    parts = [
        *((code, cause, 1, term) for code, cause, term in _fishing(means, given, found)),
        *((code, cause, 2, term) for code, cause, term in _fallback(given, found, days)),
    ]
    formulas = [Cell(term) for _, _, _, term in parts]
    factors = _factors(answer, [cause for _, cause, _, _ in parts], formulas)
    of_parts = [Cell(factors[cause]) for _, cause, _, _ in parts]
    adjusted = [Cell(f * factor) for f, factor in zip(formulas, of_parts, strict=True)]
    stage_1 = Cell(found.asked_for("fishing"), name="Stage_1_mean")
    stage_2 = Cell(found.asked_for("fallback"))

    def scale(stage: int, mean: Cell) -> Cell:
        each = [a for a, part in zip(adjusted, parts, strict=True) if part[2] == stage]
        together = total(block(each))
        return Cell(when(over(together, 0.0), mean / together, 0.0))

    scales = scale(1, stage_1), scale(2, stage_2)
    shares = [
        Share(code, cause, stage, f, factor, a, Cell(a * scales[stage - 1]))
        for (code, cause, stage, _), f, factor, a in zip(
            parts, formulas, of_parts, adjusted, strict=True
        )
    ]
    return Split(stage_1, stage_2, scales, days, tuple(shares))


def _factors(answer: Answer, names: Sequence[str], formulas: Sequence[Cell]) -> Mapping[str, float]:
    """The program's mean of each cause over that of the formulas."""
    keys = {words: name for name, words in CAUSE_WORDS.items()}
    program = {keys[row["cause"]]: float(row["expected"]) for row in causes(answer)}
    found = {}
    for cause in set(names):
        formula = sum(
            cell.number for name, cell in zip(names, formulas, strict=True) if name == cause
        )
        found[cause] = program.get(cause, 0.0) / formula if formula > 0 else 1.0
    return found


def _fishing(means: Paths, given: Inputs, found: Model) -> list[tuple[str, str, Operand]]:
    """Stage 1 by code and cause."""
    made = found.asked_for("made_days")
    rented = found.asked_for("made_rented")
    if "owed" in given.single:
        rented = rented + given["owed"]
    out: Operand = 1.0 if means.ended == "recovered" else found.asked_for("out")
    lines: list[tuple[str, str, Operand]] = [
        ("FS10", "rig_time", made * given.spread),
        ("FS20", "fishing_day", made * given.fishing_day),
        ("FS40", "charges", found.asked_for("made_charges")),
        ("FS50", "common", found.common_cost),
        ("FS60", "mobilization", when(over(found.asked, 0.0), given["mobilization"], 0.0)),
        ("FS80", "recovery", found.recovery_cost * out),
    ]
    if means.rentals:
        lines.insert(2, ("FS30", "rentals", rented))
    return lines


def _fallback_days(given: Inputs, found: Model, j: int) -> FallbackDays:
    """What fallback `j` takes, weighted with the chance to start it at each place."""
    each, sums = given.fallbacks[j], found.sums[j]
    taken = block(row[j] for row in found.taken)
    chance = Cell(total(taken))
    more, retry, trips = (
        product_sum(taken, block(getattr(place, name)[j] for place in found.places))
        for name in ("more_hours", "more_retry_hours", "bit_trips")
    )
    items = total(block(item.cell for item in each.hours))
    lost = product_sum(taken, block(place.lost for place in found.places))
    if not each.sidetrack:
        days = Cell(chance * items / 24)
        return FallbackDays(chance, days, Cell(0.0), Cell(0.0), Cell(0.0), Cell(lost))
    whipstock = Cell(0.0)
    if "whipstock.hours" in each.amounts:
        whipstock = Cell(chance * sums.attempts * each["whipstock.hours"])
    return FallbackDays(
        chance=chance,
        days=Cell((chance * items + more) / 24),
        retry_hours=Cell(sums.retries * (chance * each["retry_hours"] + retry)),
        whipstock_hours=whipstock,
        bits=Cell(chance + trips),
        lost=Cell(lost),
    )


def _fallback(
    given: Inputs, found: Model, days: Sequence[FallbackDays]
) -> list[tuple[str, str, Operand]]:
    """Stage 2 by code and cause, all fallbacks together."""
    parts: dict[tuple[str, str], list[Term]] = {}
    for each, sums, own in zip(given.fallbacks, found.sums, days, strict=True):
        work = _sidetrack if each.sidetrack else _lump
        for (code, cause), term in work(each, sums, own, given.spread):
            parts.setdefault((code, cause), []).append(term)
    string = found.asked_for("lost_owed")
    owed = block(place.owed for place in found.places)
    if any(cell.number > 0 for cell in owed.cells):
        string = string + product_sum(block(found.chances), owed)
    lines: list[tuple[str, str, Operand]] = [
        (code, cause, sum_of(terms)) for (code, cause), terms in parts.items()
    ]
    return [*lines, ("LH50", "string_lost", string)]


Part = tuple[tuple[str, str], Term]


def _sidetrack(
    each: FallbackInputs, sums: FallbackSums, own: FallbackDays, spread: Cell
) -> list[Part]:
    """A sidetrack by code and cause."""
    chance = own.chance
    again = (own.retry_hours + own.whipstock_hours) / 24 * sums.day
    again = again + chance * sums.retries * each["plug_cost"]
    if "whipstock.cost" in each.amounts:
        again = again + chance * sums.attempts * each["whipstock.cost"]
    return [
        (("ST10", "fallback_time"), own.days * spread),
        (("ST20", "fallback_charges"), chance * each["plug_cost"] * each["plugs"]),
        (("ST30", "fallback_time"), own.days * each["directional_day"]),
        (("ST30", "fallback_charges"), chance * each["mobilization"]),
        (("ST40", "fallback_charges"), own.bits * each["bit_cost"]),
        (("ST60", "fallback_charges"), chance * each["logging_cost"]),
        (("RG20", "fallback_charges"), chance * each["other_cost"]),
        (("ST80", "kickoff_trouble"), again),
        (("ST85", "sticking"), chance * each["stick_again.chance"] * each["stick_again.cost"]),
        (("LH20", "lost_in_hole"), own.lost * each["lost_in_hole_share"]),
    ]


def _lump(each: FallbackInputs, sums: FallbackSums, own: FallbackDays, spread: Cell) -> list[Part]:
    """A fallback of known cost by code and cause."""
    chance = own.chance
    return [
        (("ST10", "fallback_time"), own.days * spread),
        (("ST90", "fallback_charges"), chance * each["cost"]),
        (("ST85", "sticking"), chance * each["trouble.chance"] * each["trouble.cost"]),
        (("LH20", "lost_in_hole"), own.lost * each["lost_in_hole_share"]),
        (("", NOT_SPENT), chance * each["value_given_up"]),
    ]
