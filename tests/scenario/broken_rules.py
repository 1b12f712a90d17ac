"""Replacements that break a rule of a sound scenario: depths, missing keys, distributions, papers.

Origin of the expected values: line numbers are counted by hand in the data file; words are
the contract of the messages (where, what was given, what is allowed, what to do); ranges are
those of the format.
"""

from __future__ import annotations

from broken_keys import LAST, RIG, TEXT, TRIPS, Broken

DEPTHS = [
    Broken("top = 11180", "top = 11900", 30, "fish.top", "top = 11900", "above", "top < bottom"),
    Broken("top = 11180", "top = 11850", 30, "fish.top", "bottom = 11850", "above", "top < bottom"),
    Broken("bottom = 11850", "bottom = 11850.4", 31, "fish.bottom", "11850.4", "at most", ""),
    Broken(
        "shoe_depth = 4200",
        "shoe_depth = 11850",
        14,
        "well.shoe_depth",
        "11850",
        "less than the depth",
        faults=2,  # the kick-off below the shoe is then impossible too
    ),
    Broken("length = 640", "length = 600", 34, "fish.piece", "630", "= 670", "correct a length"),
    Broken(
        "length = 640", "length = 641.01", 34, "fish.piece", "671.01", "= 670", "correct a length"
    ),
    Broken("length = 640", 'length = "640"', 36, "fish.piece.1.length", "'640'", "[ft or m]"),
    Broken(
        "kickoff_floor = 4260",
        "kickoff_floor = 11180",
        122,
        "fallback.1.kickoff_floor",
        "no kick-off above 11180",
        "open hole between",
        "lump fallback",
    ),
    Broken(
        "kickoff_below_shoe = 60",
        "kickoff_below_shoe = 7650",
        123,
        "fallback.1.kickoff_below_shoe",
        "7650",
        "above the depth",
    ),
    Broken(
        "kickoff_below_shoe = 60",
        "competent = [[5000, 6000], [5500, 7000]]",
        123,
        "fallback.1.competent",
        "5500",
        "do not overlap",
    ),
    Broken(
        "kickoff_below_shoe = 60",
        "competent = [[6000, 5000]]",
        123,
        "fallback.1.competent",
        "6000",
        "from the top down",
    ),
    Broken(
        "kickoff_below_shoe = 60",
        "competent = [[5000, 6000, 7000]]",
        123,
        "fallback.1.competent.1",
        "3 items",
        "at most 2 items",
    ),
    Broken(
        "kickoff_below_shoe = 60",
        "competent = [[11300, 11400]]",
        123,
        "fallback.1.competent",
        "11300",
        "above the fish top, 10950",
    ),
    Broken(
        "kickoff_below_shoe = 60",
        "competent = [[4205, 4250]]",
        123,
        "fallback.1.competent",
        "4205",
        "kick-off floor, 4260",
    ),
]

MISSING = [
    Broken("depth = 11850\n", "", 11, "well.depth", "nothing", "[ft or m]", "add depth = ..."),
    Broken('well = "A  M', 'name = "A  M', 6, "job.well", "nothing", "required", "", faults=2),
    Broken("currency =", "#", None, "currency", "nothing", "required", "add currency"),
    Broken(RIG, "", 21, "rates", "0 items", "at least 1 item"),
    Broken("[rates]\n" + RIG, "", None, "rates", "nothing", "required", "add rates"),
    Broken("[fish]\ntop = 11180\n", "[fish]\n", 29, "fish.top", "nothing", "required", "add top"),
    Broken("value = 96000.0", "", 34, "fish.piece.1", "neither value", "one of", "value = 0"),
    Broken(
        "value = 96000.0", "value = 1\nreplacement = 2", 34, "fish.piece.1", "both value", "one of"
    ),
    Broken(TRIPS, "", 44, "run.1", "neither hours nor trips", "one of", "trips = [{"),
    Broken(TRIPS, "hours = 9\n" + TRIPS, 44, "run.1", "both hours and trips", "one of"),
    Broken(TRIPS, "trips = []", 48, "run.1.trips", "0 items", "at least 1 item"),
    Broken('name = "Open-hole sidetrack"\n', "", 119, "fallback.1.name", "nothing", "", "add name"),
    Broken(
        TEXT[TEXT.index("[trip_speed]") : TEXT.index("[rates]")],
        "",
        None,
        "",
        "no [trip_speed]",
        "because a run or a sidetrack trips",
        "add [trip_speed]",
    ),
    Broken(
        TEXT[TEXT.index("[[fallback]]") : TEXT.index("[draws]")],
        "",
        None,
        "fallback",
        "nothing",
        "required",
        "add fallback",
    ),
    Broken(
        TEXT[TEXT.index("[job]") :],
        "fallback = []\n" + TEXT[TEXT.index("[job]") : TEXT.index("[[fallback]]")],
        6,
        "fallback",
        "0 items",
        "at least 1 item",
    ),
    Broken(
        TEXT[TEXT.index("top_condition") : TEXT.index("[recovery]")],
        "sealed_source = true\n",
        32,
        "fish.sealed_source",
        "a sealed source in the fish and no run",
        "at least one run",
        "waives it on purpose",
    ),
]


def rate(form: str, key: str, given: str, allowed: str, suggestion: str = "") -> Broken:
    """The day rate of the rig written as a distribution."""
    return Broken(RIG, f"rig = {form}", 22, f"rates.rig{key}", given, allowed, suggestion)


def chance(form: str, key: str, given: str, allowed: str) -> Broken:
    """The prior chance written as a distribution."""
    return Broken(
        "workable = 0.7", f"workable = {form}", 27, f"fishing.workable{key}", given, allowed
    )


FORMS = [
    rate("{ low = 5, high = 3 }", "", "low = 5, high = 3", "low <= high", "rising order"),
    rate("{ low = 1, likely = 9, high = 3 }", "", "likely = 9", "low <= likely <= high"),
    rate("{ low = 5 }", ".high", "nothing", "required", "add high = ..."),
    rate("{ low = -5, high = 7 }", "", "from -5 to 7", "0 or more"),
    rate('{ low = 5, high = "7" }', ".high", "'7'", "currency/d", "without quotes"),
    rate("{ low = 5, high = nan }", ".high", "nan", "a finite number"),
    rate("{ low = 5, high = 7, mode = 6 }", ".mode", "an unknown key", "keys low, high"),
    rate('{ low = 1, likely = 2, high = 3, shape = "pert" }', ".shape", "'pert'", "triangle"),
    rate(
        '{ low = 1, likely = 2, high = 3, shape = "triangel" }',
        ".shape",
        "'triangel'",
        "triangle",
        "did you mean triangle?",
    ),
    rate('{ low = 1, high = 3, shape = "triangle" }', ".likely", "nothing", "required"),
    rate("{ mean = 5, sd = -1 }", ".sd", "-1", "0 or more"),
    # independent: the standard normal below -1 is 15.87 % (any table of the normal)
    rate("{ mean = 5, sd = 5 }", "", "15.9% of it outside", "0 or more; at most 1%", "narrow it"),
    rate("{ mean = -5, sd = 0 }", "", "a distribution of -5 alone", "0 or more"),
    rate("{ median = 5, factor = 0.5 }", ".factor", "0.5", "1 or more"),
    rate("{ median = 0, factor = 2 }", ".median", "0", "more than 0"),
    # published: Keelin 2016, section 3.4: k = (1 - 1.66711 x 0.4)/2 = 0.166578, so that the
    # median of 1 .. 10 lies between 1 + 9 k = 2.4992 and 10 - 9 k = 8.5008
    rate("{ p10 = 1, p50 = 9, p90 = 10 }", "", "p50 = 9", "2.4992 and 8.5008", "{median, factor}"),
    rate("{ p10 = 3, p50 = 2, p90 = 1 }", "", "p10 = 3", "p10 <= p50 <= p90", "rising order"),
    rate("{ p10 = -9, p50 = 1, p90 = 11 }", "", "of it outside", "0 or more"),
    rate("{ values = [1, 2], weights = [1] }", "", "2 values and 1 weights", "one weight for each"),
    rate("{ values = [1, 2], weights = [0, 0] }", "", "sum to 0", "a sum above 0"),
    rate("{ values = [1, 2], weights = [-1, 2] }", ".weights.1", "-1", "0 or more"),
    rate("{ values = [], weights = [1] }", ".values", "0 items", "at least 1 item"),
    rate('{ values = [1, "b"], weights = [1, 1] }', ".values.2", "'b'", "a number"),
    rate("{ values = 5, weights = [1] }", ".values", "5", "a list"),
    rate("{ values = [5, -6], weights = [1, 1] }", "", "from -6 to 5", "0 or more"),
    rate("{ mean = 0.5, weight = 20 }", "", "a Beta distribution", "0 or more"),
    rate("{ least = 5, most = 3 }", "", "no distribution", "{low, likely, high}", "write a number"),
    rate("{}", "", "no distribution", "{p10, p50, p90}", "write a number"),
    chance("{ mean = 1.2, weight = 5 }", ".mean", "1.2", "1 or less"),
    chance("{ mean = 0.2, weight = 0 }", ".weight", "0", "1e-09 or more"),
    chance("{ mean = 0.9, sd = 0.2 }", "", "of it outside", "from 0 to 1"),
    chance("{ low = 0.5, high = 1.5 }", "", "from 0.5 to 1.5", "from 0 to 1"),
    chance("{ median = 0.5, factor = 2 }", "", "from above 0 to inf", "from 0 to 1"),
]


def added(text: str, line: int, key: str, given: str, allowed: str, suggestion: str = "") -> Broken:
    """Sections added at the end of the file: the first added line is 149."""
    return Broken(LAST, f"{LAST}\n{text}", line, key, given, allowed, suggestion)


A_AND_B = '[[partner]]\nname = "A"\ninterest = {}\n[[partner]]\nname = "B"\ninterest = {}'
RANGE = "{ low = 1, high = 2 }"
RANGES_AT = {RIG: f"rig = {RANGE}", "hours = 34": f"hours = {RANGE}", "wait = 4": f"wait = {RANGE}"}
PAIR = '[[correlation]]\nof = ["{}", "{}"]\nrho = {}\n'

PAPERS = [
    added("[limits]\nminimum_runs = 6", 150, "limits.minimum_runs", "= 6", "runs listed, 5"),
    added("[limits]\nminimum_runs = -1", 150, "limits.minimum_runs", "-1", "0 or more"),
    added("[limits]\nauthority = -1", 150, "limits.authority", "-1", "0 or more"),
    added("[limits]\nrisk_tolerance = 0", 150, "limits.risk_tolerance", "0", "1e-09 or more"),
    added(A_AND_B.format(0.5, 0.4), 149, "partner", "sum to 0.9", "a sum of 1"),
    added(A_AND_B.format(60, 30), 149, "partner", "sum to 90", "of 100, in percent"),
    added(A_AND_B.format(0.5, 101), 154, "partner.2.interest", "101", "from 0 to 100"),
    added(
        A_AND_B.format("0.5\noperator = true", "0.5\noperator = true"),
        149,
        "partner",
        "2 operators",
        "one operator",
    ),
    added("[[afe.line]]\nname = 'x'", 149, "afe.line.1.code", "nothing", "required", "add code"),
    added(
        '[[correlation]]\nof = ["rates.rig"]\nrho = 0',
        150,
        "correlation.1.of",
        "1 item",
        "at least 2 items",
    ),
    added(PAIR.format("a", "b", 1), 151, "correlation.1.rho", "1", "to 0.999999999"),
    added(PAIR.format("a", "b", -1), 151, "correlation.1.rho", "-1", "from -0.999999999"),
]

AFE_LINE = '[[afe.line]]\ncode = "RT10"\nname = "Rig"\nto_come = 100\n'  # lines 149 to 152
EARLIER = "[[afe.earlier]]\nsupplement = {}\ndate = 2026-03-01\namounts = {}\n"
SPLIT = '[[afe.currency_split]]\ncurrency = "{}"\nshare = {}\nrate = 2\ndate = 2026-03-01\n'
PAPERS += [
    added("[afe]\nsupplement = 2", 150, "afe.supplement", "supplement 1", "[[afe.earlier]]", "{}"),
    added(
        "[afe]\nsupplement = 3\n" + EARLIER.format(2, "{}"),
        150,
        "afe.supplement",
        "supplement 1",
        "[[afe.earlier]]",
    ),
    added(EARLIER.format(1, "{}"), 150, "afe.earlier.1.supplement", "= 1", "below that of this"),
    added(
        "[afe]\nsupplement = 2\n" + EARLIER.format(1, "{}") * 2,
        156,
        "afe.earlier.2.supplement",
        "twice",
        "once",
    ),
    added(
        "[afe]\nsupplement = 2\n" + AFE_LINE + EARLIER.format(1, "{ RT1O = 5 }"),
        158,
        "afe.earlier.1.amounts",
        "'RT1O'",
        "RT10",
        "did you mean RT10?",
    ),
    added(AFE_LINE + "lapses_under = [2]", 153, "afe.line.1.lapses_under", "2, no", "up to 1"),
    added(AFE_LINE + "committed = 101", 153, "afe.line.1.committed", "101", "to come, 100"),
    added(AFE_LINE + "committed = -1", 153, "afe.line.1.committed", "-1", "0 or more"),
    added(SPLIT.format("USD", 0.5), 150, "afe.currency_split.1.currency", "USD", "other than"),
    added(
        SPLIT.format("EUR", 0.5) + SPLIT.format("EUR", 0.5),
        155,
        "afe.currency_split.2.currency",
        "twice",
        "each once",
    ),
    added(
        SPLIT.format("EUR", 0.6) + SPLIT.format("GBP", 0.5),
        149,
        "afe.currency_split",
        "sum to 1.1",
        "the rest is in USD",
    ),
    added(
        '[afe.price_reference]\n"rates.rag" = "Contract 7"',
        149,
        "afe.price_reference",
        "'rates.rag'",
        "rates.rig",
        "did you mean rates.rig?",
    ),
    added(
        '[afe.price_reference]\n"well.depth" = "Contract 7"',
        149,
        "afe.price_reference",
        "'well.depth'",
        "prices in this file",
    ),
    added(
        '[limits]\ntime_zone = "America/Chicaco"',
        150,
        "limits.time_zone",
        "'America/Chicaco'",
        "region/city",
        "such as America/Chicago",
    ),
    added(
        "[limits]\nnotice_at = 2026-03-14T06:00:00Z",
        150,
        "limits.notice_at",
        "with a time zone",
        "without one",
        "give time_zone",
    ),
    added("[limits]\nnotice_at = 2026-03-14", 150, "limits.notice_at", "a day", "date and time"),
    added(
        '[limits]\nresponse_hours = 9000\nresponse_days = "working"',
        150,
        "limits.response_hours",
        "9000 on working days",
        "up to 8784",
    ),
    added(
        A_AND_B.format(0.5, "0.5\ndeclines_fallback = true"),
        152,
        "partner.2.carried_by",
        "nobody",
        "sum to 1",
        'carried_by = { "A" = 1 }',
    ),
    added(
        A_AND_B.format(0.5, '0.5\ndeclines_fallback = true\ncarried_by = { "A" = 0.5 }'),
        156,
        "partner.2.carried_by",
        "sum to 0.5",
        "sum to 1",
    ),
    added(
        A_AND_B.format(0.5, '0.5\ndeclines_fallback = true\ncarried_by = { "B" = 1 }'),
        156,
        "partner.2.carried_by",
        "'B'",
        "partners who consent",
    ),
    added(
        A_AND_B.format(0.5, '0.5\ncarried_by = { "A" = 1 }'),
        155,
        "partner.2.carried_by",
        "who consents",
        "declines_fallback = true",
    ),
    added(
        A_AND_B.format(
            0.5, '0.5\noperator = true\ndeclines_fallback = true\ncarried_by = { "A" = 1 }'
        ),
        156,
        "partner.2.declines_fallback",
        "an operator",
        "pays its share",
        "another operator",
    ),
]

SYNTAX = [
    Broken(RIG, "rig =", 22, "", "'rig ='", "TOML", "Invalid value"),
    Broken(RIG, "rig = 53,000", 22, "", "'rig = 53,000'", "TOML"),
    Broken(RIG, 'rig = "53', 22, "", "rig =", "TOML", "Illegal character"),
    Broken(RIG, "rig 53000", 22, "", "'rig 53000'", "TOML", "Expected '='"),
    Broken(RIG, "rig = 53000\nrig = 1", 23, "", "'rig = 1'", "TOML", "overwrite"),
    Broken("[rates]", "[rates", 21, "", "'[rates'", "TOML", "Expected ']'"),
    Broken("[rates]", "[well]", 21, "", "'[well]'", "TOML", "twice"),
    Broken(RIG, "rig = 1 # \x1b[31m", 22, "", "\\x1b", "TOML"),
    Broken(LAST, "seed = [7", 148, "", "'seed = [7'", "TOML"),
    Broken(RIG, "rig = " + "[" * 5000 + "]" * 5000, None, "", "nested too deep", "TOML"),
    Broken(RIG, "rig = " + "{a=" * 5000 + "1" + "}" * 5000, None, "", "nested too deep", "TOML"),
    Broken(RIG, "rig = " + "[" * 100 + "]" * 100, 22, "rates.rig", "a list", "a number"),
    Broken(RIG, "a" + ".a" * 200 + " = 1", None, "", "nested too deep", "TOML"),
]

LONG_OR_UNPRINTABLE = [
    Broken("woc = 24", '"\\u001b[31m" = 24', 128, "fallback.1.\x1b[31m", "unknown", "keys name"),
    Broken("woc = 24", '"w\u00f6c" = 24', 128, "fallback.1.w\u00f6c", "unknown", "", "woc?"),
    Broken(RIG, 'rig = "\\u001b[2J\\u0007"', 22, "rates.rig", "'\\x1b[2J\\x07'", "a number"),
    Broken(RIG, 'rig = "' + "9" * 30_000 + '"', 22, "rates.rig", "99...", "currency/d"),
    Broken(
        'name = "1 Overshot', 'name = "' + "x" * 30_000, 45, "run.1.name", "xx...", "300 characters"
    ),
    Broken("woc = 24", "w" * 10**5 + " = 24", 128, "fallback.1." + "w" * 10**5, "unknown", "keys"),
    Broken(
        LAST,
        LAST + '\n[[correlation]]\nof = ["\\u001b[31m", "\u00fc"]\nrho = 0.5',
        150,
        "correlation.1.of",
        "\x1b[31m",
        "there is none in this file",
        faults=2,
    ),
]

DIVISORS = [  # amounts that are divided by, and numbers whose products could overflow
    Broken(
        "kickoff_rate = 2.0",
        "kickoff_rate = { mean = 2.0, sd = 0.6 }",
        132,
        "fallback.1.kickoff_rate",
        "at or past the end",
        "divided by",
        "{low, likely, high}",
    ),
    Broken(
        "kickoff_failure = 0.25",
        "kickoff_failure = { mean = 0.7, weight = 5 }",
        142,
        "fallback.1.kickoff_failure",
        "weight = 5",
        "above 2",
        "weight = 10",
    ),
    Broken(
        "kickoff_failure = 0.25",
        "kickoff_failure = { mean = 0.6, sd = 0.1 }",
        142,
        "fallback.1.kickoff_failure",
        "at or past the end",
        "divided by",
    ),
    Broken(RIG, "rig = 1e308", 22, "rates.rig", "1e+308", "at most 1e+15"),
    Broken(RIG, "rig = { low = 1, high = 1e16 }", 22, "rates.rig", "1e+16", "at most 1e+15"),
    Broken("hours = 34", "hours = 1e99", 115, "recovery.hours", "1e+99", "at most"),
]
