"""Words of the AFE supplement: what is asked for, what formulas can do, what is not covered."""

from __future__ import annotations

from econ.reports import sentences
from econ.reports.cautions import SEALED_SOURCE, SHORT
from econ.reports.tables.afe import Supplement
from econ.reports.tables.answer import all_notes
from econ.reports.tables.situation import Situation
from econ.reports.words import Money

PERCENTILES = (
    "P10, P50 and P90 are costs not exceeded with a chance of 10, 50 and 90 %. Reserves are quoted "
    "the other way round. Percentiles of lines must not be added; means may."
)
WHOLE = (
    "Amounts are shown in whole units of currency; sums are of the unrounded amounts. Net shares "
    "are to the cent."
)
STAGES = (
    "Stage 1 is asked for as the cost if every run to the limit fails. Its mean also holds the "
    "work after a recovery, which is then paid instead of stage 2; what stage 1 lacks for it is "
    "drawn on stage 2. Expected call = mean of stage 1 "
    "+ chance of stage 2 x what stage 2 spends."
)
SPENT = (
    "Money spent before the costs are counted from is on every branch. It stands in the cost table "
    "and enters no comparison."
)
NOT_COVERED = (
    "What an insurer, a tool owner or another third party may pay back or claim, but for what is "
    "shown below the line.",
    "Lost or deferred production, lost reservoir access, effects on the rig schedule.",
    "Injury, spill, damage to reputation, penalties.",
    "Trouble after the well is back at depth, and trouble of another kind than listed here.",
    "Taxes, carried interests and back-in after payout: the nets are plain working interests.",
)
QUESTIONS = (
    "What a partner loses who does not consent to the second stage, and who then carries that "
    "interest, is in the agreement: read it before the vote.",
    "With the rig standing, a vote costs the spread for as long as it takes. Stage 2 is therefore "
    "asked for now, to take effect without a further vote if the stop rule is met.",
)


def asked_for(found: Supplement) -> str:
    """The request in a sentence, without numbers: they stand beside it and can change."""
    return sentences.ask(Situation.of_answer(found.answer))


def exactness(found: Supplement) -> list[str]:
    """What the formulas of the sheet reproduce, and what they approximate."""
    means, scenario = found.means, found.answer.scenario
    rules = [
        "As written, every mean, chance and day count equals the program's answer. The formulas "
        "are the outcome tree of the program by states: runs made, fish top, top damaged or not.",
        "Exact for any change of an interest, of a line of the cost table, or of the trigger.",
    ]
    limits = []
    if means.uncertain:
        limits.append(
            "The file has ranges. Inputs are their means. The program's mean over all draws "
            "differs from what the formulas give for the means; their quotient, by limit, is a "
            "fixed factor on the sheet Limits (by cause on the sheet Split). A change of an input "
            "moves a mean in the proportion in which it moves the formula."
        )
    elif means.sampled:
        limits.append(
            "The formulas hold the whole tree; the program samples which failures move or damage "
            "the top. The factors on the sheets Limits and Split carry that difference, which is "
            "within the program's standard error."
        )
    if means.merged:
        limits.append(
            "States of the sheet Paths with a star each stand for several unlikely ones, at their "
            "mean fish top."
        )
    if any(key in found.given.single for key in ("odds_ratio_per_day", "loss_odds_ratio_per_day")):
        limits.append(
            "Odds that move with time are taken at the days of the path on which every run before "
            "has ended with nothing."
        )
    if means.rentals:
        limits.append(
            "Rental contracts, and waits for their tools, are amounts and hours by run from the "
            "path on which every run before has ended with nothing. They do not follow a change "
            "of days, and minimum days are in them."
        )
    if means.logged:
        limits.append("The odds of the runs in the log are those of the file.")
    if limits:
        rules.append("Approximate for a change of a rate, hour, charge, chance or odds:")
        rules += [f"- {limit}" for limit in limits]
    else:
        rules.append(
            "Exact as well for any change of a rate, hour, charge, chance, odds or value: the file "
            "has single numbers and nothing is sampled."
        )
    rules += [
        "Hours are inputs: trips are not made anew if a depth or a trip speed would change. Hours "
        "from another fish top or kick-off depth keep their difference to those from the top now.",
        "Not recomputed: percentiles, means of the two ends, the latest start, and the limit that "
        "is asked for. The check on the first sheet says when an input has been changed.",
    ]
    if len(scenario.fallback) > 1:
        rules.append("Of several fallbacks the formulas take the one of least mean at each place.")
    return rules


def basis(found: Supplement) -> list[str]:
    """What the amounts rest on."""
    answer = found.answer
    scenario = answer.scenario
    draws = scenario.draws
    lines = [
        f"{draws.scrambles} scrambles of {draws.n} draws, seed {draws.seed}.",
        SPENT,
        "Fund the mean of both stages, the expected call. " + STAGES,
    ]
    ranges = [path for path, _, _ in scenario.amounts()]
    if ranges:
        lines.append("Given as a range, shown by its mean: " + ", ".join(ranges) + ".")
    origins = [
        f"Run {number}, {run.name}: {run.full_origin}"
        for number, run in enumerate(scenario.run, start=1)
        if run.full_origin
    ]
    origins += [f"fishing.{each.of}: {each.words()}" for each in scenario.fishing.evidence]
    lines += origins or ["Odds, hours and charges: as the file gives them, origin not stated."]
    if any(share.code == "" for share in found.split.shares):
        lines.append(
            "Value of the well given up is part of the comparison and of stage 2 as the program "
            "compares it; it is no expenditure and stands in no authority, cost line or net."
        )
    lines.append(
        "Contingency of the original authority (codes CT) that has nothing to come is released by "
        "this supplement, and the change is net of it."
    )
    if scenario.afe.supplement > 1:
        lines.append(
            "Earlier supplements: the file has no amounts for them; enter them in the cost table."
        )
    money = Money(answer, plain=False)
    lines += [f"{label}: {words}." for label, words in sentences.given(answer, money)]
    return lines


def cautions(found: Supplement) -> list[str]:
    """Cautions that go out with every report."""
    sealed = SEALED_SOURCE if found.answer.scenario.fish.sealed_source else ()
    return [*SHORT, *sealed]


def remarks(found: Supplement) -> list[str]:
    """Notes of the program on the scenario and the answer."""
    return all_notes(found.answer)
