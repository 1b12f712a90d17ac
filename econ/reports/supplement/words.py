"""Words of the AFE supplement: what is asked for, what the sheet follows, what is not covered."""

from __future__ import annotations

from econ.reports import safety, sentences
from econ.reports.cautions import SHORT
from econ.reports.supplement.content import Supplement
from econ.reports.tables.answer import all_notes
from econ.reports.tables.situation import Situation
from econ.reports.words import Money
from econ.scenario.scenario import dotted

NAMES = {  # of what the partners share
    "stage_1_asked_for": "Stage 1, asked for",
    "stage_2_if_needed": "Stage 2, if needed",
    "expected_call": "Expected call",
    "change_of_the_authority": "Change of the authority",
    "revised_total": "Revised total",
}
COLUMN_HEADS = {
    "original": "Original",
    "earlier": "Earlier supplements",
    "approved": "Approved to date",
    "spent": "Spent to date",
    "to_come": "To come without trouble",
    "trouble": "Forecast of trouble, mean",
    "revised": "Revised total",
    "change": "Change",
}
GROUP_WORDS = {
    "file": "approved work",
    "log": "since the decision",
    "fishing": "stage 1, mean",
    "fallback": "stage 2, mean",
    "further": "by hand",
}
SHOWN = (
    "Options, odds and the plan are shown, not recomputed: they do not follow a change of a price. "
    "Who doubts them changes the scenario and runs the program again, or turns them on the "
    "what-if page."
)
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


def follows(found: Supplement) -> list[str]:
    """What the sheet follows when a cell is changed, and what it does not."""
    rules = [
        "Every line is a quantity times a price. The quantities are those of the program: days, "
        "chances and counts, if every run fails and on average. Prices are those of the file, a "
        "range by its mean.",
        "Shaded cells may be changed: a price, a number of days, an interest, a line of the cost "
        "table, the trigger. Lines, stages, totals and net shares follow.",
        SHOWN,
        "As issued, and not recomputed: options, percentiles, limit, chances, latest start. The "
        "check on the first sheet says when an input has been changed.",
    ]
    if any(line.differs() for line in found.estimate.lines):
        rules.append(
            "Where a price is a range, the price used is the mean of quantity x price over the "
            "mean quantity, so that the lines sum to the program's means. The stated mean stands "
            "beside it. A line whose price is changed takes the price as changed."
        )
    if found.answer.scenario.rental:
        rules.append(
            "Rentals are a sum, not days times a rate: minimum days and standby are in it, and it "
            "does not follow a change of days."
        )
    return rules


def basis(found: Supplement) -> list[str]:
    """What the amounts rest on."""
    answer = found.answer
    scenario = answer.scenario
    draws = scenario.draws
    lines = [
        f"{draws.scrambles} scrambles of {answer.draws} draws, seed {draws.seed}.",
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
    if scenario.from_reports is not None:
        told = scenario.from_reports
        origins += [
            f"{dotted(each.path)}: from daily reports ({told.source}): {each.told}"
            for each in told.taken
        ]
    lines += origins or ["Odds, hours and charges: as the file gives them, origin not stated."]
    if found.stages["not_spent"].value:
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
    money = Money(answer)
    lines += [f"{label}: {words}." for label, words in sentences.given(answer, money)]
    return lines


def cautions(found: Supplement) -> list[str]:
    """Cautions that go out with every report."""
    job = found.answer.as_left
    return [*safety.warnings(job), *safety.barred_runs(job), *SHORT, *safety.checklist(job)]


def remarks(found: Supplement) -> list[str]:
    """Notes of the program on the scenario and the answer."""
    return all_notes(found.answer)
