"""Tables that only the decision memo has: stop rule, call-outs, assumptions, sketch."""

from __future__ import annotations

from datetime import timedelta

from econ.decision import Answer
from econ.reports.tables.answer import latest_start
from econ.reports.tables.plain import Row, length_factor
from econ.scenario.amounts import Form


def stop_rule(answer: Answer) -> Row:
    """The limit in runs, days and money, and today's position against each."""
    limit = answer.limit
    made = len(answer.log)
    elapsed = 0.0
    if answer.log:
        elapsed = (answer.log[-1].end - answer.log[0].start) / timedelta(days=1)
    return {
        "runs_left": limit.runs,
        "runs_made": made,
        "days_left": limit.days,
        "days_made": elapsed,
        "no_run_after_days": answer.best_by_days.days if answer.best else 0.0,
        "latest_start": latest_start(answer),
        "money_left": answer.stage_1.planned if answer.best else 0.0,
        "money_made": answer.spent,
    }


def call_outs(answer: Answer) -> list[Row]:
    """Tools to call now, to keep or to release."""
    rows = []
    for each in answer.contracts:
        later = each.now_or_later
        if not each.needed:
            action = "release" if each.held else "do not order"
        elif each.held:
            action = "keep"
        elif later is not None and later.value < -2 * later.error:
            action = "call now"
        elif later is not None and later.value > 2 * later.error:
            action = "call with its run"
        else:
            action = "call now or with its run"
        rows.append(
            {
                "tool": each.tool,
                "action": action,
                "first_run": each.first_run,
                "keep_day": each.keep_day,
                "wait": each.wait,
                "now_less_later": None if later is None else later.value,
            }
        )
    return rows


def assumptions(answer: Answer) -> list[Row]:
    """What the answer rests on, and where each is from."""
    scenario = answer.scenario
    rows = []
    if scenario.has_kinds:
        file = "the file" + ("" if not answer.log else ", before the log")
        said = [each.words() for each in scenario.fishing.evidence if each.of == "workable"]
        rows.append(
            {
                "name": "chance that the fish is workable",
                "value": _words(scenario.fishing.workable),
                "origin": "; ".join(said) or file,
            }
        )
    rows += [
        {
            "name": "factor on the odds for each day elapsed",
            "value": _words(scenario.fishing.odds_ratio_per_day),
            "origin": each.words(),
        }
        for each in scenario.fishing.evidence
        if each.of == "odds_ratio_per_day"
    ]
    for number, run in enumerate(scenario.run, start=1):
        tables = run.odds_by_kind()
        odds = " / ".join(
            f"{each.recovered:g}" for each in (tables if scenario.has_kinds else tables[:1])
        )
        weights = [each.weight for each in tables if each.weight is not None]
        worth = f", worth {min(weights):g} past runs" if weights else ", stated as exact"
        rows.append(
            {
                "name": f"run {number} recovers, {run.name}",
                "value": odds + worth,
                "origin": run.full_origin or "the file; its origin is not stated",
            }
        )
    rows += [
        {"name": path, "value": f"{value:g}", "origin": "planning value: judgement, no source"}
        for path, value in scenario.assumed()
    ]
    return rows


def sketch(answer: Answer) -> Row:
    """Depths of the sketch of the well, in the units of the file; pieces from the top down."""
    scenario, factor = answer.scenario, length_factor(answer)
    well, fish = scenario.well, scenario.fish
    top = fish.top
    if answer.after is not None:
        top = answer.after.fish_top / factor
    pieces, end = [], fish.top
    for piece in fish.piece:
        start, end = end, end + piece.length
        if end > top:
            pieces.append({"name": piece.name, "top": max(start, top), "bottom": end})
    kickoff = answer.fallbacks.taken.kickoff
    return {
        "unit": "ft" if scenario.units == "field" else "m",
        "shoe": well.shoe_depth,
        "depth": well.depth,
        "top": top,
        "bottom": fish.bottom,
        "pieces": pieces or [{"name": "fish", "top": top, "bottom": fish.bottom}],
        "kickoff": None if kickoff is None else kickoff / factor,
        "fallback": answer.fallbacks.taken.name,
        "out": answer.ended == "recovered",
    }


def _words(amount: object) -> str:
    if not isinstance(amount, Form):
        return f"{amount:g}"
    keys = ", ".join(
        f"{name} {value:g}"
        for name, value in amount.model_dump().items()
        if isinstance(value, (int, float))
    )
    return f"{amount.name} {keys}"
