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
        f"By these, runs ahead take {found.factor:.2f} times the hours planned (8 times in 10 "
        f"between {found.low:.2f} and {found.high:.2f})."
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
        limit = f"the best limit is {runs(effect.best_with)}, as it is without"
    if found.applied:
        said = f"This is applied (learn_hours): {limit}, and the expected cost is {cost}."
    else:
        said = (
            f"This is not applied. With it {limit}, and the expected cost is {cost}. To apply it, "
            "set learn_hours = true under [fishing]."
        )
    return lines + wrap(said)
