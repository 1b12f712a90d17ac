"""What the windows show of an answer, as plain values: made in the worker, laid out in the page.

Numbers are those of `econ.reports.tables`, words those of `econ.reports.sentences` and of the
first screen. The quick view has the same names as the answer, as far as it has them.

The quick view: limits, next run and belief of the first QUICK draws of every scramble, without
percentiles, plan or rule by state. Its errors are larger, and stand beside its numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from econ.decision import Answer
from econ.decision.figures import days, figures
from econ.decision.fish_now import fish_now
from econ.decision.limits import verdict
from econ.decision.next_run import runs_ahead
from econ.decision.run_log import inputs_after
from econ.engine.case import ENDS
from econ.engine.curves import Curves, Tally
from econ.engine.inputs import Inputs
from econ.engine.walk import runs_if_all_fail
from econ.reports import safety, sentences, tables
from econ.reports.amounts import Amounts
from econ.reports.first_screen import FirstScreen, first_screen, stop_order
from econ.reports.outcome_words import OUTCOMES
from econ.reports.tables.plain import plain
from econ.reports.tables.situation import Situation
from econ.reports.text import handed_on
from econ.scenario import Scenario
from econ.scenario.run_log import LoggedRun

Row = dict[str, Any]
QUICK = 16  # draws of each scramble
ORDERS = 60  # most orders of a plan that are shown


def quick_view(scenario: Scenario, log: Sequence[LoggedRun]) -> Row:
    """The first figures of an answer."""
    few = min(QUICK, scenario.draws.n or scenario.draws.most)
    draws = scenario.draws.model_copy(update={"n": few})
    inputs = inputs_after(scenario.model_copy(update={"draws": draws}), log)
    tally = Tally(inputs, distributions=False)
    tally.extend(few)
    found = tally.curves()
    judged = verdict(found.cost, minimum=inputs.minimum_runs)
    ahead = runs_ahead(found, runs_if_all_fail(inputs.pilot()), inputs.scenario.run)
    named = [figures(found, n) for n in range(found.cost.shape[1])]
    rows = [
        {
            "runs": n,
            "days": each["days"].value,
            "expected_cost": each["expected_cost"].value,
            "standard_error": each["expected_cost"].error,
            "probability_recovered": each["probability_recovered"].value,
        }
        for n, each in enumerate(named)
    ]
    best = rows[judged.best]
    first = ahead[0] if ahead else None
    view: Row = plain(
        {
            "scenario": scenario.job.well,
            "currency": scenario.currency,
            "draws": few,
            "answer": {
                "runs": judged.best,
                "days": best["days"],
                "flat_limits": list(judged.flat),
                "expected_cost": best["expected_cost"],
                "standard_error": best["standard_error"],
                "fallback_now": rows[0]["expected_cost"],
                "saving": judged.saving.value,
                "probability_recovered": best["probability_recovered"],
            },
            "by_runs": rows,
            "next_run": None
            if first is None
            else {
                "name": first.name,
                "days": first.days,
                "cost": first.cost,
                "odds": first.odds,
                "break_even_odds": first.break_even_odds,
            },
            "belief": [
                {"failed_runs": run.failed_runs, "workable": run.workable, "next_odds": run.odds}
                for run in ahead
            ],
            "has_kinds": scenario.has_kinds,
            "headline": _headline(found, inputs, log),
        }
    )
    return view


def _headline(curves: Curves, inputs: Inputs, log: Sequence[LoggedRun]) -> str:
    """The verdict by the limits alone, in the words of every report."""
    judged = verdict(curves.cost, minimum=inputs.minimum_runs)
    costs = [float(cost) for cost in curves.cost.mean(axis=0)]
    last = log[-1].outcome if log else ""
    elapsed = days(curves, judged.best).value
    situation = Situation(
        ended=last if last in ENDS else None,  # type: ignore[arg-type]
        limit=judged.best,
        days=elapsed or 0.0,
        expected_cost=costs[judged.best],
        stopping_now=costs[0],
        saving=judged.saving.value,
        best_with_a_run=min(costs[1:], default=None),
        to_the_end=costs[-1],
        fallback="",
        others=False,
        needed=1.0 - float(curves.recovered[:, judged.best].mean()),
        least_runs=inputs.minimum_runs,
        cost_of_minimum=judged.cost_of_minimum,
        flat=judged.flat,
        same=(),
        close=(),
        rule_gain=None,
        fish=judged.best > 0,
        listed=len(costs) - 1,
    )
    money = Amounts(largest=max(costs), currency=inputs.scenario.currency, digits=3)
    return sentences.verdict(situation, money).headline


def answer_view(answer: Answer) -> Row:
    """An answer: its document, its first screen, and the same as text to be copied."""
    return {
        "document": tables.document(answer),
        "screen": {
            **screen_rows(first_screen(answer)),
            "duties": list(safety.checklist(answer.as_left)),
        },
        "text": handed_on(answer),
        "notes": list(tables.all_notes(answer)),
        "has_kinds": answer.scenario.has_kinds,
        "length_unit": tables.length_unit(answer),
    }


def screen_rows(screen: FirstScreen) -> Row:
    """A first screen as plain values."""
    return {
        "verdict": list(screen.verdict),
        "safety": list(screen.safety),
        "blocks": [
            {
                "title": block.title,
                "heads": block.heads,
                "rows": [{"label": row.label, "words": row.words} for row in block.rows],
            }
            for block in screen.blocks
        ],
        "caution": screen.caution,
    }


def taken_back(scenario: Scenario, parts: Row) -> str:
    """What it says to take the last row of a log back. parts: `log` as it was, `taken`, and what
    both files are called."""
    from econ.reports.log_entry_text import taken_back_text

    taken = replace(parts["taken"], row="")  # it was a row of the table
    return taken_back_text(
        scenario, parts["log"], taken, file=parts["log_name"], beside=parts["beside"]
    )


def plan_view(scenario: Scenario, log: Sequence[LoggedRun]) -> Row:
    """The plan as orders that a person can read: what to do, after which outcomes, what then."""
    from econ.decision.plan import plan
    from econ.reports.plan_tables import Order, left_out, readable

    left = fish_now(scenario, log)
    found = plan(scenario, log)
    first, below = readable(found, most=ORDERS)
    names = [run.name for run in scenario.run]

    def row(order: Order) -> Row:
        node = order.nodes[0]
        best = node.next_best
        return {
            "after": [OUTCOMES[each] for each in order.outcomes],
            "do": order.do,
            "name": names[order.do - 1] if isinstance(order.do, int) else None,
            "chance": order.chance,
            "odds": None if node.odds is None else node.odds.value,
            "day": node.day,
            "cost_from_here": node.cost_from_here.value,
            "belief": {each.doubt: each.chance.value for each in node.belief},
            "marks": list(node.marks),
            "next_best": None
            if best is None
            else {
                "do": best.do,
                "costs_more": best.costs_more.value,
                "resolved": best.costs_more.resolved(node.cost_from_here.value),
            },
            "then": [row(child) for child in order.children],
        }

    tree: Row = plain(
        {
            "currency": scenario.currency,
            "expected_cost": found.expected_cost.value,
            "standard_error": found.expected_cost.error,
            "gain": found.gain.value,
            "gain_error": found.gain.error,
            "limit": found.limit,
            "probability_recovered": found.probability_recovered.value,
            "left_out": left_out(found, below=below),
            "runs": names,
            "safety": [*safety.warnings(left), *safety.barred_runs(left)],
            "stop": stop_order(left, scenario.fallback[0].name),
            "gap": found.gap,
            "order": row(first),
        }
    )
    return tree


def beside_view(before: Scenario, after: Scenario, log: Sequence[LoggedRun]) -> Row:
    """Two cases side by side, by `econ whatif`."""
    from econ.decision.whatif import whatif
    from econ.reports.whatif_tables import whatif_document

    found = whatif(before, after, log)
    money = Amounts(
        largest=max(abs(row.before or 0.0) for row in found.by_runs),
        currency=before.currency,
        digits=3,
    )
    words = [
        sentences.verdict(Situation.of_side(found, side), money).headline
        for side in ("before", "after")
    ]
    return whatif_document(found) | {"headlines": words}


def methods_view(scenario: Scenario) -> Row:
    """Kinds of run for a fish and hole, best in money first, as `econ methods` has them."""
    from econ.decision.methods import methods
    from econ.reports.methods_tables import methods_document

    return methods_document(methods(scenario))
