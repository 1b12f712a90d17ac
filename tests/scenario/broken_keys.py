"""Replacements that break one key of a sound scenario: types, ranges, words, unknown keys, odds.

Origin of the expected values: line numbers are counted by hand in the data file; words are
the contract of the messages (where, what was given, what is allowed, what to do); ranges are
those of the format.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

TEXT = (Path(__file__).parents[1] / "data" / "scenario_a_check.toml").read_text(encoding="utf-8")
TRIPS = "trips = [{ make_up = 2.5, circulate = 1.5, work = 3, lay_down = 1.5 }]"  # line 48
RUN_1_STUBBORN = TEXT.split("\n")[55]  # line 56
RIG = "rig = 53000"  # line 22
LAST = "seed = 7"  # line 148, the last: sections added after it begin at 149


class Broken(NamedTuple):
    """One replacement in the sound text and the fault it must give."""

    old: str
    new: str
    line: int | None
    key: str
    given: str = ""
    allowed: str = ""
    suggestion: str = ""
    faults: int = 1  # in the whole file, where a replacement breaks more than one thing


TYPES = [
    Broken(RIG, 'rig = "53000"', 22, "rates.rig", "'53000'", "currency/d", "without quotes"),
    Broken(RIG, 'rig = "dear"', 22, "rates.rig", "'dear'", "0 or more; a number"),
    Broken(RIG, "rig = true", 22, "rates.rig", "true", "a number"),
    Broken(RIG, "rig = [53000]", 22, "rates.rig", "a list", "a number"),
    Broken(RIG, "rig = []", 22, "rates.rig", "an empty list", "a number"),
    Broken(RIG, "rig = 2026-03-01", 22, "rates.rig", "2026-03-01", "a number"),
    Broken("depth = 11850", 'depth = "deep"', 12, "well.depth", "'deep'", "[ft or m]"),
    Broken("depth = 11850", "depth = { low = 1, high = 2 }", 12, "well.depth", "a table", "number"),
    Broken("inclination = 3", "inclination = false", 15, "well.inclination", "false", "degrees"),
    Broken('currency = "USD"', "currency = 840", 3, "currency", "840", "a text in quotes"),
    Broken("price_date = 2026-03-01", 'price_date = "soon"', 4, "price_date", "'soon'", "a date"),
    Broken(
        "price_date = 2026-03-01",
        "price_date = 2026-03-01T06:00:00",
        4,
        "price_date",
        "2026-03-01T06:00:00",
        "a date such as",
    ),
    Broken(
        "decided_at = 2026-03-14T06:00:00",
        'decided_at = "Saturday"',
        9,
        "job.decided_at",
        "'Saturday'",
        "a date and time such as",
    ),
    Broken("[trip_speed]\nin", "[[trip_speed]]\nin", 17, "trip_speed", "a list", "a table"),
    Broken(
        "in = { cased = 2000, open = 1300 }", "in = 1500", 18, "trip_speed.in", "1500", "a table"
    ),
    Broken("[rates]", "[[rates]]", 21, "rates", "a list", "a table"),
    Broken(
        "day_rates = { services = 7400 }",
        "day_rates = 7400",
        25,
        "fishing.day_rates",
        "7400",
        "a table",
    ),
    Broken("[[fallback]]", "[fallback]", 119, "fallback", "a table", "a list"),
    Broken(TRIPS, TRIPS.replace("[", "").replace("]", ""), 48, "run.1.trips", "a table", "a list"),
    Broken(TRIPS, "trips = [3]", 48, "run.1.trips.1", "3", "a table"),
    Broken("dresses_top = false", "dresses_top = 0", 53, "run.1.dresses_top", "0", "true or false"),
    Broken("plugs = 1", "plugs = 1.5", 127, "fallback.1.plugs", "1.5", "a whole number"),
    Broken("n = 16384", "n = 16384.0", 147, "draws.n", "16384.0", "a whole number"),
    Broken("n = 16384", "n = true", 147, "draws.n", "true", "a whole number"),
    Broken("n = 16384", 'n = "16384"', 147, "draws.n", "'16384'", "power of two", "without quotes"),
    Broken(RUN_1_STUBBORN, "stubborn = 0.3", 56, "run.1.odds.stubborn", "0.3", "a table"),
]

RANGES = [
    Broken(RIG, "rig = -1", 22, "rates.rig", "-1", "0 or more"),
    Broken(RIG, "rig = -1234567", 22, "rates.rig", "-1234567", "0 or more"),
    Broken(RIG, "rig = nan", 22, "rates.rig", "nan", "a finite number"),
    Broken(RIG, "rig = inf", 22, "rates.rig", "inf", "a finite number"),
    Broken(RIG, "rig = -inf", 22, "rates.rig", "-inf", "a finite number"),
    Broken("top = 11180", "top = nan", 30, "fish.top", "nan", "a finite number"),
    Broken("workable = 0.7", "workable = 1.01", 27, "fishing.workable", "1.01", "from 0 to 1"),
    Broken("workable = 0.7", "workable = -0.7", 27, "fishing.workable", "-0.7", "from 0 to 1"),
    Broken("gross_rop = 36", "gross_rop = 0", 133, "fallback.1.gross_rop", "0", "1e-09 or more"),
    Broken("open = 1300", "open = 0", 18, "trip_speed.in.open", "0", "1e-09 or more"),
    Broken("inclination = 3", "inclination = 181", 15, "well.inclination", "181", "from 0 to 180"),
    Broken("= 8.5", "= 0", 13, "well.hole_diameter", "0", "1e-09 or more"),
    Broken("wait = 4", "wait = -4", 47, "run.1.wait", "-4", "0 or more"),
    Broken("work = 3,", "work = -3,", 48, "run.1.trips.1.work", "-3", "0 or more"),
    Broken(
        "kickoff_failure = 0.25",
        "kickoff_failure = 1",
        142,
        "fallback.1.kickoff_failure",
        "1",
        "from 0 to 0.999999999",
    ),
    Broken("plugs = 1", "plugs = -1", 127, "fallback.1.plugs", "-1", "0 or more"),
    Broken("n = 16384", "n = 8", 147, "draws.n", "8", "16 or more"),
    Broken("n = 16384", "n = 8388608", 147, "draws.n", "8388608", "4194304 or less"),
    Broken("n = 16384", "n = 1000", 147, "draws.n", "n = 1000", "a power of two", "n = 1024"),
    Broken(LAST, "seed = -1", 148, "draws.seed", "-1", "0 or more"),
    Broken(LAST, LAST + "\nscrambles = 15", 149, "draws.scrambles", "15", "16 or more"),
    Broken(RIG, "rig = 1" + "0" * 400, 22, "rates.rig", "10000", "a number"),
    Broken(RIG, "rig = 0x" + "f" * 6000, 22, "rates.rig", "a very large integer", "a number"),
    Broken(RIG, "rig = " + "9" * 6000, 22, "", "an integer of too many digits", "TOML"),
    Broken('units = "field"', "units = 0x" + "f" * 6000, 2, "units", "very large", "field, metric"),
]

WORDS = [
    Broken("schema = 1", "schema = 2", 1, "schema", "2", "1"),
    Broken("schema = 1", "schema = 1.0", 1, "schema", "1.0", "1, a whole number"),
    Broken("schema = 1", "schema = true", 1, "schema", "true", "1, a whole number"),
    Broken('"field"', '"imperial"', 2, "units", "'imperial'", "field, metric"),
    Broken('"field"', '"feild"', 2, "units", "'feild'", "field, metric", "did you mean field?"),
    Broken('"field"', '["field"]', 2, "units", "a list", "field, metric"),
    Broken('currency = "USD"', 'currency = ""', 3, "currency", "''", "at least 1 character"),
    Broken(
        'kind = "overshot"',
        'kind = "overshoot"',
        46,
        "run.1.kind",
        "'overshoot'",
        "screw_in, overshot",
        "did you mean overshot?",
    ),
    Broken('"clean"', '"claen"', 32, "fish.top_condition", "'claen'", "ragged", "mean clean?"),
    Broken(
        '"clean"',
        '"clean"\nmechanism = "differntial"',
        33,
        "fish.mechanism",
        "'differntial'",
        "packed_off",
        "did you mean differential?",
    ),
    Broken(
        LAST,
        LAST + '\n[[rental]]\ntool = "Jar"\nkinds = ["overshot", "sper"]',
        151,
        "rental.1.kinds.2",
        "'sper'",
        "washover",
        "did you mean spear?",
    ),
    Broken(
        LAST,
        LAST + '\n[afe]\ntrigger_basis = "totl"',
        150,
        "afe.trigger_basis",
        "'totl'",
        "total, line",
        "did you mean total?",
    ),
]

UNKNOWN_KEYS = [
    Broken("[draws]", "[drawings]", 146, "drawings", "unknown", "limits", "did you mean draws?"),
    Broken("schema = 1", "schema = 1\ncurency = 1", 2, "curency", "unknown", "", "mean currency?"),
    Broken("n = 16384", "N = 16384", 147, "draws.N", "unknown", "keys n, seed, scrambles"),
    Broken("inclination", "inclinaton", 15, "well.inclinaton", "unknown", "", "mean inclination?"),
    Broken("open = 1300", "open = 1300, shut = 1", 18, "trip_speed.in.shut", "unknown", "cased"),
    Broken("mobilization = 9500", "mobilisation = 9500", 26, "fishing.mobilisation", "unknown", ""),
    Broken("value = 96000.0", "value = 1\nwait = 1", 38, "fish.piece.1.wait", "unknown", "length"),
    Broken("charge = 4200", "charges = 4200", 49, "run.1.charges", "unknown", "", "mean charge?"),
    Broken(
        "work = 3,", "wrk = 3,", 48, "run.1.trips.1.wrk", "unknown", "keys make_up", "mean work?"
    ),
    Broken(
        "string_lost = 0.015",
        "string_lost = 0.015, lost = 0",
        55,
        "run.1.odds.workable.lost",
        "unknown",
        "recovered, part, nothing",
    ),
    Broken(
        "woc = 24", "woq = 24", 128, "fallback.1.woq", "unknown", "stinger", "did you mean woc?"
    ),
    Broken("{ chance", "{ chanc", 143, "fallback.1.stick_again.chanc", "unknown", "", "chance?"),
    Broken(
        "in = { cased", "into = { cased", 18, "trip_speed.into", "unknown", "in, out", "", faults=2
    ),
    Broken("schema = 1", "schema_ = 1", 1, "schema_", "unknown", "", "mean schema?", faults=2),
    Broken("shoe_depth =", '"<lump>" =', 14, "well.<lump>", "unknown", "keys depth", "", faults=2),
]

ODDS = [
    Broken(
        "recovered = 0.66",
        "recovered = 0.659",
        55,
        "run.1.odds.workable",
        "sum to 0.999",
        "a sum of 1",
        "nothing = 0.221 would make it 1",
    ),
    Broken(
        "recovered = 0.66",
        "recovered = 0.660002",
        55,
        "run.1.odds.workable",
        "sum to 1.000002",
        "a sum of 1",
        "nothing = 0.219998",
    ),
    Broken("= 0.66,", "= 0.06,", 55, "run.1.odds.workable", "sum to 0.4", "1", "nothing = 0.82"),
    Broken("= 0.66,", "= 0.96,", 55, "run.1.odds.workable", "sum to 1.3", "1", "check each"),
    Broken("= 0.66,", "= -0.66,", 55, "run.1.odds.workable.recovered", "-0.66", "from 0 to 1"),
    Broken("= 0.66,", "= 1.66,", 55, "run.1.odds.workable.recovered", "1.66", "from 0 to 1"),
    Broken("= 0.66,", '= "0.66",', 55, "run.1.odds.workable.recovered", "'0.66'", "", "quotes"),
    Broken(RUN_1_STUBBORN, "", 54, "run.1.odds.stubborn", "nothing", "required", "add stubborn"),
    Broken(
        RUN_1_STUBBORN,
        RUN_1_STUBBORN.replace("stubborn", "stuborn"),
        56,
        "run.1.odds.stuborn",
        "unknown",
        "workable, stubborn",
        "did you mean stubborn?",
        faults=2,
    ),
    Broken(
        "[run.odds]", "[run.chances]", 44, "run.1.odds", "nothing", "required", "add odds", faults=2
    ),
]
