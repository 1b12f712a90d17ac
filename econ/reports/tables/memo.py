"""Tables that only the decision memo has: stop rule, assumptions, sketch."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta

from econ.decision import Answer
from econ.reports.tables.answer import latest_start
from econ.reports.tables.plain import Row, length_factor, length_unit
from econ.scenario import Scenario
from econ.scenario.distributions import Distribution


def stop_rule(answer: Answer) -> Row:
    """The limit in runs, days and money, and today's position against each."""
    limit = answer.limit
    elapsed = 0.0
    if answer.log:
        elapsed = (answer.log[-1].end - answer.log[0].start) / timedelta(days=1)
    return {
        "runs_left": limit.runs,
        "runs_made": answer.runs_made,
        "days_left": limit.days,
        "days_made": elapsed,
        "no_run_after_days": answer.best_by_days.days if answer.best else 0.0,
        "latest_start": latest_start(answer),
        "money_left": answer.stage_1.planned if answer.best else 0.0,
        "money_made": answer.spent,
    }


def assumptions(answer: Answer) -> list[Row]:
    """What the answer rests on, and where each is from.

    value: a number [unit] or words where unit is ""; money is in the currency; inputs: names of the
    main inputs of a sensitivity that it is, or is a part of.
    """
    scenario, taken = answer.scenario, answer.fallbacks.taken
    fishing, recovery, prices = scenario.fishing, scenario.recovery, answer.prices
    speeds = scenario.trip_speed
    rates, daily = (
        _rates(scenario, key, amounts)
        for key, amounts in (("rates", scenario.rates), ("fishing.day_rates", fishing.day_rates))
    )
    rows = [
        _row("spread, each day on every branch", prices.spread_day, "money", rates, "spread rates")
    ]
    if fishing.day_rates:
        name = "fishing day, beside the spread"
        rows.append(_row(name, prices.fishing_day, "money", daily, "fishing_day"))
    if speeds is not None:
        for way, speed in (("in", speeds.into), ("out", speeds.out)):
            name = f"trip speed {way}, cased and open hole, {length_unit(answer)}/h"
            words = f"{_words(speed.cased)}; {_words(speed.open)}"
            origin = scenario.origin_in_reports("trip_speed", way)
            origin = origin or _in_file(scenario, f"trip_speed.{way}")
            rows.append(_row(name, words, "", origin, "trip_speed"))
    rows += [*_doubts(answer), *_odds(answer)]
    for name, key in (
        ("odds p/(1-p) of recovery, factor a day", "odds_ratio_per_day"),
        ("odds of losing string or hole, factor a day", "loss_odds_ratio_per_day"),
    ):
        amount = getattr(fishing, key)
        if amount != 1.0:
            rows.append(
                _row(
                    name,
                    _words(amount),
                    "",
                    _evidence(answer, key) or _in_file(scenario, f"fishing.{key}"),
                )
            )
    hours = _words(recovery.hours)
    rows.append(
        _row(
            "work after recovery, hours",
            hours,
            "",
            _in_file(scenario, "recovery.hours"),
            "recovery",
        )
    )
    name, built = f"{taken.name}, expected cost now", "built up from the file"
    rows.append(_row(name, taken.now, "money", built, "fallback"))
    if taken.lost_in_hole > 0:
        rows.append(_row("of it lost in hole", taken.lost_in_hole, "money", "pieces in the file"))
    return rows + _reported(answer) + _planned(answer)


def _doubts(answer: Answer) -> list[Row]:
    """The prior chance of each doubt."""
    scenario = answer.scenario
    before = ", before the log" if answer.log else ""
    if scenario.doubt:
        rows = []
        for number, doubt in enumerate(scenario.doubt, start=1):
            told = "; ".join(each.words() for each in doubt.evidence)
            words = f"chance of {doubt.name.replace('_', ' ')}"
            moves = "workable" if len(scenario.doubt) == 1 else f"doubt.{number}.workable"
            value = _words(doubt.workable)
            rows.append(
                _row(
                    words,
                    value,
                    "",
                    told or _in_file(scenario, f"doubt.{number}.workable") + before,
                    moves,
                )
            )
        return rows
    if not scenario.has_kinds:
        return []
    origin = _evidence(answer, "workable") or _in_file(scenario, "fishing.workable") + before
    value = _words(scenario.fishing.workable)
    return [_row("chance that the fish is workable", value, "", origin, "workable")]


def _odds(answer: Answer) -> list[Row]:
    """The stated odds of each run."""
    scenario, ahead = answer.scenario, [run.run for run in answer.ahead]
    rows = []
    for number, run in enumerate(scenario.run, start=1):
        kinds = run.odds_by_kind()
        odds = " / ".join(
            f"{each.recovered:.3g}" for each in (kinds if scenario.has_kinds else kinds[:1])
        )
        weights = [each.weight for each in kinds if each.weight is not None]
        worth = f", worth {min(weights):.3g} past runs" if weights else ", stated as exact"
        origin = run.full_origin or f"{_in_file(scenario, f'run.{number}')}; origin not stated"
        moves = "all_odds" if number - 1 in ahead else ""
        if ahead and number - 1 == ahead[0]:
            moves += " next_odds"
        rows.append(_row(f"run {number} recovers, {run.name}", odds + worth, "", origin, moves))
    return rows


IN_FILE = "the scenario file"


def _in_file(scenario: Scenario, key: str) -> str:
    """Where the values at a key are from: the file, as a planning value where it is marked so."""
    count = sum(path == key or path.startswith(f"{key}.") for path in scenario.marked)
    planned = "planning value" if count == 1 else f"{count} planning values"
    return f"{planned} of {IN_FILE}, not looked at" if count else IN_FILE


def _evidence(answer: Answer, key: str) -> str:
    """What past jobs had to say on a key of [fishing]."""
    return "; ".join(each.words() for each in answer.scenario.fishing.evidence if each.of == key)


def _row(name: str, value: object, unit: str, origin: str, inputs: str = "") -> Row:
    """inputs: names with blanks between."""
    moves = tuple(inputs.split())
    return {"name": name, "value": value, "unit": unit, "origin": origin, "inputs": moves}


def _rates(scenario: Scenario, key: str, rates: Mapping[str, object]) -> str:
    """Where a sum of rates is from."""
    ranges = sum(isinstance(each, Distribution) for each in rates.values())
    of = f"{len(rates)} rate{'s' if len(rates) > 1 else ''}"
    return f"{_in_file(scenario, key)}: {of}, {ranges} with a range"


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
        "unit": length_unit(answer),
        "shoe": well.shoe_depth,
        "depth": well.depth,
        "top": top,
        "bottom": fish.bottom,
        "pieces": pieces or [{"name": "fish", "top": top, "bottom": fish.bottom}],
        "kickoff": None if kickoff is None else kickoff / factor,
        "fallback": answer.fallbacks.taken.name,
        "out": answer.ended == "recovered",
    }


def _reported(answer: Answer) -> list[Row]:
    """What of the fallbacks and of the weather is from daily reports."""
    scenario = answer.scenario
    rows = []
    for number, fallback in enumerate(scenario.fallback):
        origin = scenario.origin_in_reports("fallback", number)
        if origin and scenario.from_reports is not None:
            keys = [
                str(each.path[-1])
                for each in scenario.from_reports.taken
                if each.path[:2] == ("fallback", number)
            ]
            words = ", ".join(f"{key.replace('_', ' ')} {_short(fallback, key)}" for key in keys)
            rows.append(_row(f"{fallback.name}, from daily reports", words, "", origin, "fallback"))
    origin = scenario.origin_in_reports("weather")
    if origin:
        shares = scenario.weather.fishing, scenario.weather.fallback
        words = "; ".join(_words(share) for share in shares)
        rows.append(_row("share of time lost to weather, runs and fallback", words, "", origin))
    return rows


def _short(section: object, key: str) -> str:
    """The median of an amount that daily reports gave."""
    amount = getattr(section, key)
    return f"{getattr(amount, 'median', amount):.4g}"


def _planned(answer: Answer) -> list[Row]:
    """Planning values that stand in for keys left out, a row for each fallback."""
    kept: dict[str, list[str]] = {}
    names = [fallback.name for fallback in answer.scenario.fallback]
    for path, value, unit in answer.scenario.assumed():
        _, number, key = path.split(".")
        if value:
            words = f"{key.replace('_', ' ')} {value:.4g} {unit}".strip()
            kept.setdefault(names[int(number) - 1], []).append(words)
    origin = "planning values: judgement, no source"
    return [
        _row(f"{fallback}, keys left out", ", ".join(values), "", origin)
        for fallback, values in kept.items()
    ]


def _words(amount: object) -> str:
    if not isinstance(amount, Distribution):
        return f"{amount:g}"
    keys = ", ".join(
        f"{name} {value:.3g}" if name == "weight" or abs(value) < 1 else f"{name} {value:g}"
        for name, value in amount.model_dump().items()
        if isinstance(value, (int, float))
    )
    return f"{amount.name}: {keys}"
