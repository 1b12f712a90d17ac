"""Tables of the rest of the decision: risk, fallbacks, rentals, what knowing is worth."""

from __future__ import annotations

from dataclasses import asdict

from econ.decision import Answer
from econ.reports.tables.plain import Row, length_factor


def risk(answer: Answer) -> Row:
    """Risk at every limit, with the fish out and with a fallback apart."""
    found = answer.risk
    return {
        "authority": found.authority,
        "risk_tolerance": found.tolerance,
        "least_risky_runs": found.least_risky,
        "best_by_certainty_runs": found.best_by_certainty,
        "by_runs": [asdict(row) for row in found.by_runs],
    }


def fallback_rows(answer: Answer) -> list[Row]:
    """The fallbacks side by side, depths in the units of the file."""
    factor = length_factor(answer)
    return [
        {
            **asdict(row),
            "kickoff": None if row.kickoff is None else row.kickoff / factor,
            "taken": list(row.taken),
        }
        for row in answer.fallbacks.rows
    ]


def fallback_reaches(answer: Answer) -> list[Row]:
    """Between which fish tops each fallback is the cheapest, in the units of the file."""
    factor = length_factor(answer)
    return [
        {"name": each.name, "upper": each.upper / factor, "lower": each.lower / factor}
        for each in answer.fallbacks.reaches
    ]


def rentals(answer: Answer) -> list[Row]:
    """What each rented tool costs."""
    rows = []
    for each in answer.contracts:
        row = asdict(each)
        later = row.pop("now_or_later")
        row["now_less_later"] = later and later["value"]
        row["now_less_later_error"] = later and later["error"]
        rows.append(row)
    return rows


def information(answer: Answer) -> Row:
    """What it is worth to know the kind of fish, and whether to buy each reading."""
    found = answer.information
    rows = []
    for each in (*found.stated, *found.readings):
        rows.append(
            {
                "name": each.name,
                "reliability": each.reliability,
                "reliability_stubborn": each.reliability_stubborn,
                "worth": each.worth.value,
                "worth_error": each.worth.error,
                "hours": each.hours,
                "price": each.price,
                "buy": each.buy,
                "clear": each.clear,
                "results": [asdict(result) for result in each.results],
            }
        )
    return {"least_workable": found.least_workable, "readings": rows}


def paying_readings(answer: Answer) -> list[Row]:
    """The readings that are worth more than their price, beyond the error."""
    if answer.ended is not None:
        return []
    rows: list[Row] = information(answer)["readings"]
    return [row for row in rows if row["buy"] and row["clear"]]


def insurance(answer: Answer) -> Row | None:
    """What a policy may pay back; enters nothing else."""
    policy = answer.scenario.insurance
    if policy.chance == 0 or policy.amount == 0:
        return None
    return {
        "chance": policy.chance,
        "amount": policy.amount,
        "expected": policy.chance * policy.amount,
    }
