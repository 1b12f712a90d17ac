"""Every number in the prose of README and guide is held by something.

Held elsewhere: notebooks by `checks/` (test_course_faults), worked lines by test_formulas, the
table of deviations by test_method, defaults and terminal blocks by test_guide, the facilitator's
sheet by test_facilitator, keys by the schema. What is left stands here, word for word, beside the
value of the code or its origin. Small whole numbers, years, numbers of papers and code are left
out.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

import econ
from econ.cli import exits
from econ.decision import figures, limits_then
from econ.desk import weights
from econ.job.fish import LEAST_FISH
from econ.records.daily_reports import drill_report, sorting, sources
from econ.reports import text
from econ.scenario.fallbacks import Sidetrack
from econ.scenario.settings import MOST_DRAWS, DrawSettings

ROOT = Path(__file__).parents[2]
GUIDE = ROOT / "notebooks" / "guide"
PAGES = {"README": ROOT / "README.md"} | {path.stem: path for path in sorted(GUIDE.glob("*.md"))}
ELSEWHERE = {"keys", "glossary"}  # made from the schema; definitions alone
NUMBER = re.compile(r"(?<![\w.,/:-])\d[\d,]*(?:\.\d+)?(?![\w]|\.\d)")
LEFT_OUT = (
    r"(?<=## Sources, and what each is used for\n).*",  # volumes and sections
    r"(?<=## How each default was set\n).*?(?=^`draws)",  # each row says its origin
    # of past jobs: examples of cells, what tests/benchmarks/records.py measures, and definitions
    r"^(?:It is read as spreadsheets|\*\*What that costs|\*\*Words of statistics).*?(?=\n\n)",
    r"^```.*?^```$",  # code and the terminal
    r"<!-- measured: begin.*?end -->",
    r"\]\([^)]*\)|`[^`]*`|\$\$.*?\$\$|\$[^$]*\$",  # links, code, formulas
    r"^\d+\. ",
    r"OTC \d+|(?:SPE/IADC|IADC/SPE|SPE) \d+|\d+\(\d\), 2014, \d+|chapter \d+",  # papers
)


def plugs() -> tuple[float, ...]:
    low, high = econ.wilson_interval(successes=2, cases=8)
    return round(low, 2), round(high, 2)


def python_needed() -> str:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return str(project["requires-python"])


def largest_upload() -> str:
    script = ROOT / "econ" / "desk" / "assets" / "past.js"
    return re.findall(r"^const LARGEST = (\d+);", script.read_text(encoding="utf-8"), re.M)[0]


FROM_256 = (figures.FEWEST, MOST_DRAWS, figures.CLOSE_MEAN, figures.CLOSE_P90)
Held = Callable[[], bool] | str
CLAIMS: list[tuple[str, str, Held]] = [
    ("README", "Python 3.11 or later", lambda: python_needed() == ">=3.11"),
    ("answer", "at most 24 lines of 64 characters", lambda: text.SCREEN == 24),
    ("answer", "P90 is not exceeded 90 % of the time", "definition"),
    (
        "answer",
        "within about 0.25 % of the program's",
        "tests/reports/test_page.py, by random jobs",
    ),
    ("answer", "*Tue 17 Mar 2026 24:00*", "example"),
    ("commands", "130 stopped by the user", lambda: exits.INTERRUPTED == 130),
    ("daily", "1.4 or 2.x", "tests/records, of both forms"),
    ("daily", "one well in the form 1.4", "tests/records, of the demo reports"),
    ("daily", "of 200 m or more", lambda: abs(sorting.FAR * 0.3048 - 200) < 1e-9),
    ("daily", '"from 1,234 m to surface"', "example"),
    ("daily", "a file over 100 MB", lambda: sources.LARGEST_XML == 100e6),
    ("daily", "a tag over 4 MB", lambda: drill_report.LARGEST_TOKEN == 4e6),
    ("daily", "single legs of 200 m", "published: the field release, as counted"),
    ("daily", "had 200, 481 and 759 m/h in", "published: the field release, as counted"),
    ("daily", "and 173, 438 and 897 out", "published: the field release, as counted"),
    ("desk", "by 0.15", lambda: weights.CHANCE == 0.15),
    ("desk", "a mud weight of 96 lb/gal", "tests/desk/test_wording.py"),
    ("desk", "1,250 can be twelve hundred", "example"),
    ("desk", "money as 240k or 1.2 million", "example"),
    ("desk", "20 / 24 / 34 is a range", "example"),
    ("desk", "more than 2.8 MB", lambda: largest_upload() == "2800000"),
    ("formulas", "1 h for 1,000 ft", "published: a public oilfield glossary"),
    ("formulas", "30 ft above the bottom of the fish", lambda: LEAST_FISH == 30.0),
    (
        "formulas",
        "about 500 ft is common, and balanced plugs over 800 ft",
        "published: named there",
    ),
    ("formulas", "at 10, 30 and then 60 %", "published: named there"),
    (
        "formulas",
        "a mean of 0.200 of it",
        lambda: round(3 / (1 / 0.1 + 1 / 0.3 + 1 / 0.6), 3) == 0.2,
    ),
    ("formulas", "of 0.25 lies", lambda: Sidetrack.model_fields["kickoff_failure"].default == 0.25),
    ("formulas", "0.07 to 0.59", lambda: plugs() == (0.07, 0.59)),
    ("formulas", "hours / 24 x spread", "definition"),
    ("literature", "20,000 dollars for a simple one at 10,000 ft", "published: named there"),
    ("literature", "15,000 to inspect", "published: named there"),
    ("literature", "311 cases", "published: named there"),
    ("literature", "14 of 17 stuck strings", "published: named there"),
    ("literature", "1,380 daily drilling reports", "published: named there"),
    ("method", "16 unless the file says otherwise", lambda: DrawSettings().scrambles == 16),
    ("method", "from 256 a set, up to 4,096", lambda: FROM_256[:2] == (256, 4096)),
    ("method", "under 0.05 %", lambda: FROM_256[2] == 0.0005),
    ("method", "P90 under 0.25 %", lambda: FROM_256[3] == 0.0025),
    ("morning", "64 draws of each scramble", lambda: limits_then.REPLAYED == 64),
    ("morning", "its range of 80 %", "econ/engine/learned_hours.py, tests/engine"),
    ("morning", "a score of 0.8", "example"),
    ("morning", "0.6 give or take 0.2", "example"),
    ("morning", "some 150,000", "tests/decision/test_lessons.py, of this log"),
    ("records", "as 0.6, 60 or 60 %", "example"),
    ("start", "from 256 up to 4,096 at the most", lambda: FROM_256[:2] == (256, 4096)),
    ("start", "under 0.05 %", lambda: FROM_256[2] == 0.0005),
    ("start", "P90 under 0.25 %", lambda: FROM_256[3] == 0.0025),
    ("teaching", "takes 5 to 20 minutes", "test_course_faults, of every notebook"),
]


def prose(page: str) -> str:
    """Text of a page in one line; without what is held elsewhere."""
    told = PAGES[page].read_text(encoding="utf-8")
    if page == "formulas":
        told = re.sub(r"^\|.*$", "", told, flags=re.M)  # its tables are worked by test_formulas
    for pattern in LEFT_OUT:
        told = re.sub(pattern, "", told, flags=re.M | re.S)
    return " ".join(told.split())


def numbers(told: str) -> list[str]:
    """Numbers that need an origin."""
    found = [each.rstrip(",") for each in NUMBER.findall(told)]
    plain = {each: float(each.replace(",", "")) for each in found}
    return [
        each
        for each, value in plain.items()
        if not (value <= 12 and value.is_integer()) and not 1900 < value < 2100
    ]


@pytest.mark.parametrize("page", sorted(set(PAGES) - ELSEWHERE))
def test_a_number_of_a_page_is_held(page: str) -> None:
    told = prose(page)
    for _, words, _ in (claim for claim in CLAIMS if claim[0] == page):
        assert words in told, "a claim that is not on the page any more"
        told = told.replace(words, " ")
    assert numbers(told) == []


@pytest.mark.parametrize(
    ("words", "held"), [(claim[1], claim[2]) for claim in CLAIMS if callable(claim[2])]
)
def test_a_claim_is_what_the_program_has(words: str, held: Callable[[], bool]) -> None:
    assert held(), words


def test_a_number_without_an_origin_is_found() -> None:
    # the walk is only as good as its reader
    assert numbers("a plug of 480 ft, 3.5 h, in 1993, by 4 people; 1,250") == [
        "480",
        "3.5",
        "1,250",
    ]
    assert "2.8 MB" in prose("desk")
    assert "13(4)" not in prose("model")
