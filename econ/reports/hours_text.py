"""Hours learned in words: planned against actual, and what the factor for the hours ahead does."""

from __future__ import annotations

from econ.decision import Answer
from econ.reports.words import Money, one_line, runs, wrap


def hours_learned(answer: Answer, money: Money) -> list[str]:
    """Planned against actual hours by run and in all; nothing where no run counts."""
    found = answer.hours
    if found is None:
        return []
    ratio = found.actual / found.planned
    whole = f"planned {found.planned:.1f} h, made {found.actual:.1f} h"
    lines = ["", *wrap(f"HOURS: {whole}, {ratio:.2f} of plan.")]
    for each in found.runs:
        name = one_line(answer.scenario.named(each.run))
        lines += wrap(f"- {name}: planned {each.planned:.1f} h, made {each.actual:.1f} h", hang=2)
    lines += wrap(
        f"From them the hours of runs ahead are {found.factor:.2f} of plan (8 in 10: "
        f"{found.low:.2f} to {found.high:.2f})."
    )
    effect = found.effect
    if effect is None:
        return lines
    change = effect.change
    cost = "the same"
    if change.resolved(effect.cost_without) and money.shows(abs(change.value)):
        cost = f"{money.full(abs(change.value))} {'more' if change.value > 0 else 'less'}"
    limit = f"the best limit is {runs(effect.best_with)}, not {effect.best_without}"
    if effect.best_with == effect.best_without:
        limit = f"the best limit is {runs(effect.best_with)} as without it"
    if found.applied:
        said = f"This is applied (learn_hours): {limit}; the expected cost is {cost}."
    else:
        said = (
            f"It is not applied. With it {limit}; the expected cost is {cost}. learn_hours = true "
            "under [fishing] applies it."
        )
    return lines + wrap(said)
