"""The first page of the memo: the words of the first screen, the figures of the JSON, one page.

Origins of the numbers: the document that `econ answer --json` prints, by the patterns of
`test_first_screen`; times of issue by hand from the files; 9 pt and A4 are what was asked for.
"""

from __future__ import annotations

import csv
import io
import re
from datetime import datetime
from functools import cache
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from memo_jobs import DEMOS, LOG_FILES, LOGS, LONG_NAME, ODD, STRAINED, forms, job, words_by_page
from pypdf import PdfReader
from raw_jobs import lump_job, scenario
from test_first_screen import SCREENS, answered, figures

import econ
from econ.decision.sensitivity import Sensitivity, sensitivity
from econ.reports import theme
from econ.reports.figures.layout import WIDTHS
from econ.reports.first_screen import first_screen
from econ.reports.memo import content
from econ.reports.memo.html import html
from econ.reports.memo.pdf import WHOLE

JARGON = (
    *("hump", "scramble", "step of this program", "fewer draws", "few draws", "--full", "--json"),
    *("kickoff_", "TOML", "terminal"),
)
KEY_PATH = re.compile(r"[a-z]_[a-z]|\b[a-z]+\.\d+\b|\b[a-z]+\.[a-z]+\b")


def spaced(words: str) -> str:
    return " ".join(words.split())


@cache
def small() -> Sensitivity:
    """Fills what stands behind the first page, which is not read where a screen is."""
    return sensitivity(scenario(lump_job({"recovered": 0.5, "nothing": 0.5})))


def first_page(answer: econ.Answer) -> str:
    """All that is read on the first page in HTML."""
    page = html(content(answer, small()), {"curve": b"", "sketch": b""}).decode()
    body = page.partition("<body>")[2].partition('<div class="behind">')[0]
    return spaced(unescape(re.sub(r"<[^>]*>", " ", body)))


def first_sheet(data: bytes) -> str:
    """All that is read on the first page of a PDF."""
    return spaced(PdfReader(io.BytesIO(data)).pages[0].extract_text())


# ---- what it says -----------------------------------------------------------------------------


@pytest.mark.parametrize("name", SCREENS)
def test_it_says_the_words_of_the_first_screen_in_their_order(name: str) -> None:
    screen, words = first_screen(answered(name)), first_page(answered(name))
    rows = [row for block in screen.blocks for row in block.rows]
    told = [f"{row.label}: {row.words}" if row.label else row.words for row in rows]
    at = 0
    for said in (*screen.verdict, *screen.safety, *told, screen.caution):
        place = words.find(spaced(said), at)
        assert place >= 0, said
        at = place + len(spaced(said))
    assert "Prepared by Approved by Date" in words
    for block in screen.blocks:
        assert block.title in words


@pytest.mark.parametrize("name", SCREENS)
def test_its_figures_are_those_of_the_json(name: str) -> None:
    words, checked = first_page(answered(name)), 0
    for pattern, expected in figures(answered(name)):
        titled = re.sub("^[A-Z]{2,}", lambda title: title[0].capitalize(), pattern)
        found = re.search(titled, words)
        assert found is not None, pattern
        assert found.group(1) == expected, pattern
        checked += 1
    assert checked >= (2 if answered(name).best == 0 else 6)


@pytest.mark.parametrize("name", [*DEMOS, *LOGS, "one run", "stop", *STRAINED])
def test_paper_says_the_same(name: str) -> None:
    found, sheet = job(name)[0], first_sheet(forms(name)[1])
    if found.scenario.currency.isascii():  # else the typeface may lack the sign
        for block in first_screen(found).blocks:
            for row in block.rows:
                assert spaced(row.words) in sheet
    for words in ("Issued for", "Prepared by", "Approved by", "Date"):
        assert words in sheet


@pytest.mark.parametrize(
    ("name", "when", "what"),
    [
        ("a", "Sat 14 Mar 2026, 06:00", "when the decision is taken"),  # decided_at of the file
        ("d log", "Mon 25 May 2026, 08:00", "end of the last run in the log"),  # last row of it
        ("lump", "", "day and hour of writing, by hand: the file has no clock"),
    ],
)
def test_time_of_issue_is_that_of_the_job(name: str, when: str, what: str) -> None:
    assert content(*job(name)).issued == (when, what)
    for form in (first_page(job(name)[0]), first_sheet(forms(name)[1])):
        assert spaced(f"Issued for {when} {what}") in form


def test_day_of_the_week_by_the_calendar() -> None:
    # independent: the log's last row ends on this day
    with LOG_FILES["d log"].open(encoding="utf-8", newline="") as file:
        end = datetime.fromisoformat(list(csv.DictReader(file))[-1]["end"])
    assert content(*job("d log")).issued[0] == f"{end:%a} {end.day} {end:%b %Y, %H:%M}"


# ---- in which words ---------------------------------------------------------------------------


@pytest.mark.parametrize("name", [*DEMOS, *LOGS, "no run", "one run", "stop", "metric", "lump"])
def test_no_jargon_of_the_program(name: str) -> None:
    page = forms(name)[0].decode()
    words = unescape(re.sub(r"<[^>]*>", " ", page.partition("</style>")[2])).lower()
    for jargon in JARGON:
        assert jargon.lower() not in words, jargon
    titles = re.findall(r"<(?:h1|h2|dt|th scope=\"col\")>(.*?)</", page)
    assert len(titles) > 10
    for title in titles:
        assert not KEY_PATH.search(unescape(title)), title


@pytest.mark.parametrize("name", [*DEMOS, *LOGS, *STRAINED])
def test_swings_that_say_nothing_are_left_out(name: str) -> None:
    page = forms(name)[0].decode()
    table = page.partition("What would change the answer")[2].partition("</section>")[0]
    rows = [re.findall("<td>(.*?)</td>", row) for row in table.split("<tr>")[1:]]
    assert rows or name == "lump"
    for row in filter(None, rows):
        _, where, _, moves, best = row
        ends = moves.split(" to ")
        assert len(set(ends)) == len(ends), row  # not from +1 to +1
        if len(ends) == 1:
            assert where not in ("no", "-") or " or " in best, row


# ---- on paper ---------------------------------------------------------------------------------

PAGES = {
    **dict.fromkeys((*DEMOS, *LOGS, "one run", "stop", "twelve runs"), 3),
    **{"no run": 2, "twelve long names": 4},
}


@pytest.mark.parametrize("name", PAGES)
def test_pages(name: str) -> None:
    pages = PdfReader(io.BytesIO(forms(name)[1])).pages
    assert len(pages) <= PAGES[name]
    for number, page in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}." in page.extract_text()
        wide, high = (float(side) / 72 * 25.4 for side in page.mediabox[2:])
        assert (wide, high) == pytest.approx((210, 297), abs=0.1)


SHOWN = [*DEMOS, *LOGS, "one run", "no run", "stop", "twelve runs", "twelve long names"]


@pytest.mark.parametrize("name", [*SHOWN, "hundreds", "millions", "billions"])
def test_the_first_page_is_full_and_large_enough_to_read(name: str, tmp_path: Path) -> None:
    data = forms(name)[1]
    sizes: list[float] = []

    def note(words: str, _: Any, at: Any, __: Any, size: float) -> None:
        if words.strip() and not words.startswith("econ "):
            sizes.append(size)

    PdfReader(io.BytesIO(data)).pages[0].extract_text(visitor_text=note)
    behind = 8.4 if "The verdict in full" in first_sheet(data) else 9.0  # small print on it
    assert len(sizes) > 20
    assert min(sizes) >= (9.0 if behind == 9.0 else 7.0)
    _, height, words = words_by_page(data, tmp_path)[0]
    bottoms = sorted(words[:, 3])
    foot = bottoms[-1]
    lowest = max(bottom for bottom in bottoms if bottom < foot - 12.0)
    assert lowest > (0.85 if behind == 9.0 else 0.8) * height


def test_letters_of_the_curve_are_large_enough_on_paper() -> None:
    assert theme.SMALL * WHOLE / WIDTHS["strip"] >= 9.0


@pytest.mark.parametrize("form", ["html", "pdf"])
def test_a_long_name_is_not_cut(form: str) -> None:
    assert len(LONG_NAME) == 120
    page, paper = forms("twelve long names")
    words = first_page(job("twelve long names")[0]) if form == "html" else first_sheet(paper)
    assert words.count(LONG_NAME) >= 4  # well, fallback, run, order
    assert ".." not in words
    assert b"joint.." not in page


def test_a_page_goes_on_below_a_short_first_page() -> None:
    assert "The verdict in full" in first_sheet(forms("no run")[1])
    assert set(ODD) >= {"no run"}
