"""Tables of the answer: the document that `--json` prints, and the rows that text shows."""

from __future__ import annotations

from datetime import datetime

import econ
from econ.decision import Answer
from econ.decision.delays import EndingLate, WaitingOnWeather
from econ.decision.estimates import ROUNDING
from econ.decision.guards import guards
from econ.decision.limits import RunLimit
from econ.decision.next_run import RunAhead
from econ.decision.reply import clock_of
from econ.job.methods import unsuited_runs
from econ.reports.tables.decision import (
    fallback_reaches,
    fallback_rows,
    information,
    insurance,
    rentals,
    risk,
)
from econ.reports.tables.morning import morning
from econ.reports.tables.plain import Row, length_factor, plain
from econ.reports.tables.tonight import tonight
from econ.scenario.evidence import FromReports
from econ.scenario.notes import notes
from econ.scenario.scenario import dotted


def document(answer: Answer) -> Row:
    """The answer as one document of plain values, for `--json`; units are in the glossary.

    >>> import econ
    >>> told = document(econ.answer(econ.load("scenarios/point/a_land_twist_off.toml")))
    >>> told["answer"]["verb"], told["answer"]["runs"]
    ('fish', 3)
    """
    draws = answer.scenario.draws
    rules = answer.rules
    limit = answer.limit
    found: Row = plain(
        {
            "scenario": answer.scenario.job.well,
            "currency": answer.scenario.currency,
            "draws": answer.draws,
            "scrambles": draws.scrambles,
            "seed": draws.seed,
            "version": econ.__version__,
            "answer": {
                "verb": "fish" if answer.fish else "stop",
                "by": answer.by,
                "runs": limit.runs,
                "days": limit.days,
                "flat_runs": [answer.flat[0], answer.flat[-1]],
                "flat_limits": list(answer.flat),
                "expected_cost": limit.expected_cost,
                "standard_error": limit.standard_error,
                "fallback_now": answer.by_runs[0].expected_cost,
                "saving": answer.saving.value,
                "to_the_end": answer.by_runs[-1].expected_cost,
                "probability_recovered": limit.probability_recovered,
                "p10": limit.p10,
                "p50": limit.p50,
                "p90": limit.p90,
                "resolved": answer.resolved,
                "close_call": answer.close_call,
                "errors": _errors(limit),
            },
            "by_runs": by_runs(answer),
            "by_days": [
                {
                    "days": row.days,
                    "expected_cost": row.expected_cost,
                    "standard_error": row.standard_error,
                    "probability_recovered": row.probability_recovered,
                    "probability_error": row.probability_error,
                }
                for row in answer.by_days
            ],
            "next_run": next_run(answer),
            "belief": belief(answer),
            "state_rule": {
                "expected_cost": answer.rule_cost.value,
                "standard_error": answer.rule_cost.error,
                "gain": answer.rule.gain,
                "merged_share": answer.rule.merged_share,
                "states": states(answer),
            },
            "plan": plan(answer),
            "rules": {
                "time_limit_days": rules.time_limit_days,
                "economic_fishing_days": rules.economic_fishing_days,
                "half_rule_days": rules.half_rule_days,
            },
            "authority": {
                "stage_1": {
                    "planned": answer.stage_1.planned,
                    "mean": answer.stage_1.mean,
                    "p90": answer.stage_1.p90,
                    "errors": {
                        "planned": answer.stage_1.planned_error,
                        "mean": answer.stage_1.mean_error,
                        "p90": answer.stage_1.p90_error,
                    },
                },
                "stage_2": {
                    "probability": answer.stage_2.probability,
                    "mean": answer.stage_2.mean,
                    "p90": answer.stage_2.p90,
                    "errors": {
                        "probability": answer.stage_2.probability_error,
                        "mean": answer.stage_2.mean_error,
                        "p90": answer.stage_2.p90_error,
                    },
                },
                "slices": [
                    {
                        "slice": each.slice,
                        "chance": each.chance,
                        "planned": each.planned,
                        "mean": each.mean,
                        "p90": each.p90,
                        "errors": {
                            "chance": each.chance_error,
                            "planned": each.planned_error,
                            "mean": each.mean_error,
                            "p90": each.p90_error,
                        },
                    }
                    for each in answer.authority.call.slices
                ],
                "expected_call": answer.authority.call.expected_call,
                "p90": answer.authority.call.p90,
                "errors": {
                    "expected_call": answer.authority.call.expected_call_error,
                    "p90": answer.authority.call.p90_error,
                },
                "response_hours": answer.authority.response_hours,
                "waiting_hours": answer.authority.waiting_hours,
                "waiting_cost": answer.authority.waiting_cost,
                "given": answer.authority.given,
                "suffices": answer.authority.suffices,
                "suffices_error": answer.authority.suffices_error,
                "stage_1_suffices": answer.authority.stage_1_suffices,
            },
            "risk": risk(answer),
            "fallbacks": fallback_rows(answer),
            "fallback_reaches": fallback_reaches(answer),
            "rentals": rentals(answer),
            "information": information(answer) if answer.ended is None else None,
            "insurance": insurance(answer),
            "tonight": tonight(answer),
            "log": morning(answer),
            "notes": all_notes(answer),
        }
    )
    if answer.scenario.past_jobs:
        found["past_jobs"] = past_jobs(answer)
    if answer.scenario.from_reports is not None:
        found["daily_reports"] = daily_reports(answer.scenario.from_reports)
    if answer.weather is not None:
        found["weather"] = plain(waiting(answer.weather))
    if answer.late is not None:
        found["deadline"] = plain(deadline(answer.late))
    return found


def waiting(weather: WaitingOnWeather) -> Row:
    """Expected waiting on weather at the best limit, and what it costs."""
    return {
        "runs": weather.runs,
        "days_fishing": weather.fishing.value,
        "days_fallback": weather.fallback.value,
        "cost": weather.cost.value,
        "runs_without": weather.runs_without,
        "errors": {
            "days_fishing": weather.fishing.error,
            "days_fallback": weather.fallback.error,
            "cost": weather.cost.error,
        },
    }


def deadline(late: EndingLate) -> Row:
    """Chance to end late and what it costs, by limit."""
    return {
        "days": late.days,
        "runs_without": late.runs_without,
        "by_runs": [
            {
                "runs": row.runs,
                "chance_late": row.chance.value,
                "expected_cost": row.cost.value,
                "errors": {"chance_late": row.chance.error, "expected_cost": row.cost.error},
            }
            for row in late.by_runs
        ],
    }


def plan(answer: Answer) -> Row | None:
    """What the plan of the answer comes to; `econ plan` has the whole of it."""
    found = answer.plan
    if found is None:
        return None
    first = found.nodes[0].do
    return {
        "verb": "fish" if found.fish else "stop",
        "do": first,
        "run": first if isinstance(first, int) else None,
        "expected_cost": found.expected_cost.value,
        "standard_error": found.expected_cost.error,
        "gain_over_limit": found.gain.value,
        "gain_error": found.gain.error,
        "probability_recovered": found.probability_recovered.value,
        "probability_error": found.probability_recovered.error,
        "states": found.states,
        "gap": found.gap,
    }


def by_runs(answer: Answer) -> list[Row]:
    """The curve by runs."""
    keys = ("runs", "days", "expected_cost", "standard_error", "probability_recovered")
    more = (
        *("p10", "p50", "p90", "dearer", "cost_if_recovered", "cost_if_fallback"),
        *("days_if_recovered", "days_if_fallback"),
    )
    return [
        {key: getattr(row, key) for key in (*keys, *more)} | {"errors": _errors(row)}
        for row in answer.by_runs
    ]


def _errors(row: RunLimit) -> Row:
    """Standard errors of what a limit gives."""
    return {
        "days": row.days_error,
        "probability_recovered": row.probability_error,
        "p10": row.p10_error,
        "p50": row.p50_error,
        "p90": row.p90_error,
    }


def next_run(answer: Answer) -> Row | None:
    """The next run; None when the program lists none."""
    if not answer.ahead:
        return None
    run = answer.ahead[0]
    return {
        "name": run.name,
        "days": run.days,
        "cost": run.cost,
        "odds": run.odds,
        "break_even_odds": run.break_even_odds,
        "errors": {
            "days": run.days_error,
            "cost": run.cost_error,
            "odds": run.odds_error,
            "break_even_odds": run.break_even_error,
        },
        "gain": answer.by_runs[0].expected_cost - answer.by_runs[1].expected_cost,
        "go": answer.fish,
    }


def belief(answer: Answer) -> list[Row]:
    """Belief that the fish is workable, and odds of the next run, after each failure."""
    return [
        {
            "failed_runs": run.failed_runs,
            "workable": run.workable,
            "next_odds": run.odds,
            "errors": {"workable": run.workable_error, "next_odds": run.odds_error},
        }
        | _doubts(answer, run)
        for run in answer.ahead
    ]


def _doubts(answer: Answer, run: RunAhead) -> Row:
    """The belief in each of several doubts before a run."""
    named = list(zip(answer.scenario.doubts, run.doubts, strict=False))
    if not named:
        return {}
    return {
        "doubts": {doubt.name: chance.value for doubt, chance in named},
        "doubt_errors": {doubt.name: chance.error for doubt, chance in named},
    }


def beliefs(answer: Answer, run: RunAhead) -> list[tuple[str, float]]:
    """The belief before a run in every doubt by name; in a single one under no name."""
    if not run.doubts:
        return [("", run.workable)]
    doubts = zip(answer.scenario.doubts, run.doubts, strict=True)
    return [(doubt.name, chance.value) for doubt, chance in doubts]


def states(answer: Answer) -> list[Row]:
    """What the rule by state does in each state it can reach."""
    return [
        {
            "after": list(state.history),
            "chance": state.chance,
            "workable": state.workable,
            "fish_top": state.fish_top / length_factor(answer),
            "top_damaged": state.top_damaged,
            "go": state.go,
            "run": None if state.run is None else state.run + 1,
        }
        for state in answer.rule.states
    ]


def no_limit_by_days(answer: Answer) -> bool:
    """Whether no limit by days is better than to make every run."""
    every = answer.by_runs[-1].expected_cost
    return bool(answer.best_by_days.expected_cost >= every - ROUNDING * abs(every))


def latest_start(answer: Answer) -> datetime | None:
    """When the limit by days is reached by the clock, if the file says when it starts."""
    begin = answer.now
    if begin is None or answer.best == 0:
        return None
    try:
        return clock_of(answer.scenario).later(begin, answer.best_by_days.days)
    except OverflowError:  # past the last year a calendar holds
        return None


def past_jobs(answer: Answer) -> list[Row]:
    """What past jobs had to say on each value they were asked for; empty without odds_from."""
    scenario = answer.scenario
    said = [
        (f"run.{number}.{each.of}", each)
        for number, run in enumerate(scenario.run, start=1)
        for each in run.evidence
    ]
    said += [(f"fishing.{each.of}", each) for each in scenario.fishing.evidence]
    return [
        {
            "path": path,
            "how": each.how,
            "odds_from": each.file,
            "records": each.source,
            "cases": each.cases,
            "jobs": each.jobs,
            "low": each.low,
            "high": each.high,
            "judged_weight": each.judged_weight,
            "records_weight": each.records_weight,
            "words": each.words(),
        }
        for path, each in said
    ]


def daily_reports(told: FromReports) -> list[Row]:
    """What daily reports had to say on each value that they know."""
    return [
        {
            "path": dotted(each.path),
            "how": each.how,
            "speeds_from": told.file,
            "reports": told.source,
            "cases": each.cases,
            "words": each.told,
        }
        for each in told.values
    ]


def all_notes(answer: Answer) -> list[str]:
    """What a reader should know of the scenario, and what the answer itself warns of."""
    return [*notes(answer.scenario), *unsuited_runs(answer.scenario), *guards(answer)]
