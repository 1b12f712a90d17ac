"""The decision memo: one content in two forms, safe, whole on its pages, the same every time.

Numbers are held against `document` (what `econ answer --json` prints), which the tests of engine
and decision hold against the outside; here the question is whether a reader is shown them.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from figure_jobs import raws
from memo_jobs import (
    DEMOS,
    LOGS,
    ODD,
    STRAINED,
    Reader,
    forms,
    job,
    pdf_text,
    words_by_page,
)
from page_browser import browser
from raw_jobs import DEMO_A, RUN_BY_RUN

from econ.cli import main
from econ.reports import theme
from econ.reports.memo import content, memo_html, memo_pdf
from econ.reports.memo.content import Beside, Block, Facts, Grid, Picture, Points
from econ.reports.tables import document

NUMBER = re.compile(r"\d[\d,]*\.?\d*")
TAGS = {
    *("html", "head", "meta", "title", "style", "body", "main", "header", "section", "div"),
    *("h1", "h2", "p", "img", "table", "thead", "tbody", "tr", "th", "td", "ul", "li", "b"),
    *("dl", "dt", "dd", "br"),
}


ALL = [*DEMOS, *LOGS, *(name for name in ODD if name not in ("long", "hostile", "scripts"))]


@pytest.mark.parametrize("name", ALL)
def test_pdf_and_html_hold_the_same_numbers(name: str) -> None:
    page, paper = forms(name)
    on_page = set(NUMBER.findall(Reader(page).text))
    on_paper = set(NUMBER.findall(pdf_text(paper)))
    assert len(on_page) > 20
    assert on_page == on_paper


@pytest.mark.parametrize("name", [*DEMOS, *LOGS])
def test_the_numbers_are_those_of_the_answer(name: str) -> None:
    found, _ = job(name)
    told, words = document(found), Reader(forms(name)[0]).text
    scale = 1000.0
    assert "thousand USD" in words

    def short(value: float) -> str:
        digits = max(0, 3 - len(f"{max(row['p90'] for row in told['by_runs']) / scale:.0f}"))
        return f"{value / scale:,.{digits}f}"

    best = told["by_runs"][found.best]
    for value in (
        *(best[key] for key in ("expected_cost", "p10", "p50", "p90")),
        told["by_runs"][0]["expected_cost"],
        told["authority"]["stage_1"]["planned"],
        told["authority"]["stage_1"]["p90"],
        told["authority"]["stage_2"]["mean"],
    ):
        assert short(value) in words
    assert f"{100 * best['probability_recovered']:.0f} % chance" in words
    if told["next_run"] is not None:
        assert f"{told['next_run']['odds']:.2f} against break-even" in words
        assert told["next_run"]["name"] in words
    for row in told["belief"]:
        for chance in row.get("doubts", {"": row["workable"]}).values():
            shown = f"{100 * chance:.0f} %"
            assert shown in words or shown in ("0 %", "100 %")  # never said of what is not certain
    verb = "Fish on" if told["answer"]["verb"] == "fish" else "Stop fishing"
    assert words.count(verb) == 1
    flat = told["answer"]["flat_runs"]
    assert ("Flat: " in words) == (flat[0] != flat[1] and found.best > 0)


def flat(blocks: Iterable[Block]) -> Iterator[Facts | Grid | Picture | Points]:
    """Blocks one by one, those beside one another from left to right."""
    for block in blocks:
        if isinstance(block, Beside):
            yield from flat((*block.left, *block.right))
        else:
            yield block


def test_the_memo_holds_what_it_is_for() -> None:
    memo = content(*job("a"))
    assert memo.curve is not None
    blocks = [*memo.first, memo.curve, *flat(memo.behind)]
    titles = [block.title for block in blocks if not isinstance(block, Picture)]
    for words in (
        *("Stop rule", "The next run of the list", "Authority", "What each failure teaches"),
        *("What would change the answer", "Limits on runs", "Assumptions that move the answer"),
        *("Other assumptions", "The verdict in full", "Cautions"),
    ):
        assert any(title.startswith(words) for title in titles), words
    assert {block.name for block in blocks if isinstance(block, Picture)} == {"curve", "sketch"}
    large, small = (b for b in blocks if isinstance(b, Grid) and "ssumptions" in b.title)
    assert all(row[2] for row in (*large.rows, *small.rows))
    assert small.small
    assert not large.small
    full = next(b for b in blocks if isinstance(b, Facts) and b.title == "The verdict in full")
    assert "P90 is not exceeded 90 %" in full.rows[0][1]


def test_a_sealed_source_brings_its_checklist() -> None:
    # 10 CFR 39.15(a)(5), 39.77(c): notice, cement, plaque; demo B carries sources, A does not
    for name, there in (("b", True), ("a", False)):
        points = [block for block in content(*job(name)).behind if isinstance(block, Points)]
        assert any("source" in block.title.lower() for block in points) is there


def stop_rule_of(name: str) -> dict[str, str]:
    return next(
        dict(block.rows)
        for block in flat(content(*job(name)).behind)
        if isinstance(block, Facts) and block.title.startswith("Stop rule")
    )


def test_the_stop_rule_says_what_a_reading_adds() -> None:
    start = "2 more; 0 made; a reading adds 9 h, "
    added = stop_rule_of("d")["Runs"]
    assert added.startswith(start)
    # by hand: 9 h of a fishing day of 265,000 at the likely rates, and the loggers' 32,000
    assert float(added.removeprefix(start).replace(",", "")) == pytest.approx(131_375, rel=0.005)
    assert "reading" not in stop_rule_of("a log")["Runs"]


def test_today_is_the_end_of_the_log() -> None:
    found, _ = job("a log")
    rows = stop_rule_of("a log")
    assert rows["Runs"] == f"{found.best} more; 2 made"
    # independent: the log itself, 78 h from the first start to the last end
    assert f"{78 / 24:.1f} gone" in rows["Days"]
    assert "212 thousand spent" in rows["Money"]  # independent: the costs written in the log


@pytest.mark.parametrize("name", ["hostile", "scripts", "long"])
def test_text_of_a_scenario_is_only_text(name: str) -> None:
    page = Reader(forms(name)[0])
    assert page.tags <= TAGS
    assert not [key for key, _ in page.attributes if key.startswith("on")]
    sources = [value for key, value in page.attributes if key in ("src", "href")]
    assert all(value and value.startswith("data:image/svg+xml;base64,") for value in sources)
    raw = raws()[name]
    assert " ".join(raw["job"]["well"].split()) in " ".join(page.text.split())
    assert b"/JavaScript" not in forms(name)[1]
    assert not [word for word in (b"/Launch", b"/URI", b"/EmbeddedFile") if word in forms(name)[1]]


@pytest.mark.parametrize("name", [*DEMOS, *LOGS, *ODD, *STRAINED])
def test_no_word_leaves_its_page_or_covers_another(name: str, tmp_path: Path) -> None:
    pages = words_by_page(forms(name)[1], tmp_path)
    assert len(pages) >= 2
    for width, height, words in pages:
        assert len(words) > 10
        left, top, right, bottom = words.T
        assert left.min() >= 0
        assert top.min() >= 0
        assert right.max() <= width
        assert bottom.max() <= height
        across = np.minimum.outer(right, right) - np.maximum.outer(left, left)
        down = np.minimum.outer(bottom, bottom) - np.maximum.outer(top, top)
        clash = np.triu((across > 1.0) & (down > 2.6), k=1)  # [pt]; lines stand close
        assert not clash.any(), words[np.argwhere(clash)]


def test_figures_are_told_in_words() -> None:
    page, paper = forms("a")
    alts = [value for key, value in Reader(page).attributes if key == "alt"]
    assert len(alts) == 2
    assert "Fish on: at most 3 more runs" in (alts[0] or "")
    assert "11,180" in (alts[1] or "")
    assert paper.count(b"/Alt") == 2


def test_the_same_answer_gives_the_same_bytes() -> None:
    again = memo_html(*job("a")), memo_pdf(*job("a"))
    assert again == forms("a")


def test_meaning_does_not_hang_on_colour() -> None:
    # WCAG 2.1, 1.4.3: 4.5 to 1 for text
    for colour in (theme.INK, theme.MUTED):
        assert theme.contrast(colour, theme.PAPER) >= 4.5


@pytest.mark.skipif(sys.platform == "win32", reason="the browser is driven over POSIX pipes")
def test_the_page_fits_a_phone(tmp_path: Path) -> None:
    wide = "document.scrollingElement.scrollWidth"
    smallest = (
        "Math.min(...[...document.querySelectorAll('p, li, td, dd')]"
        ".map(each => parseFloat(getComputedStyle(each).fontSize)))"
    )
    with browser() as tab:
        tab.width(360)
        for name in ("a", "b", "d log", "long", "hostile", "scripts"):
            page = tmp_path / f"{name}.html"
            page.write_bytes(forms(name)[0])
            tab.open(page)
            assert tab.run(wide) <= 360, name
            assert tab.run(smallest) >= 10.0, name  # [px]
        assert tab.said == []
        assert all(each.startswith(("file:", "data:", "about:")) for each in tab.requests)


@pytest.mark.parametrize("end", ["pdf", "html"])
def test_command_writes_either_form(end: str, tmp_path: Path) -> None:
    job, target = tmp_path / "job.toml", tmp_path / "out" / f"memo.{end}"
    job.write_text(RUN_BY_RUN, encoding="utf-8")
    target.parent.mkdir()
    result = CliRunner().invoke(
        main, ["memo", str(job), "--out", str(target), "--set", "draws.n=16"]
    )
    assert result.exit_code == 0, result.output
    assert target.read_bytes().startswith(b"%PDF" if end == "pdf" else b"<!DOCTYPE html>")
    assert [path.name for path in target.parent.iterdir()] == [target.name]


def test_command_refuses_another_ending(tmp_path: Path) -> None:
    result = CliRunner().invoke(main, ["memo", str(DEMO_A), "--out", str(tmp_path / "memo.doc")])
    assert result.exit_code == 2
    assert "a name that ends in .html, .pdf" in result.output
    assert not list(tmp_path.iterdir())
