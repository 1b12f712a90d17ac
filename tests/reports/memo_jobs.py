"""Jobs whose memos are looked at, their memos, and what a reader finds in them.

All are demos, or made from demo A or from a lump job, which are invented, with few draws.
"""

from __future__ import annotations

import io
import os
import re
import shutil
import subprocess
from collections.abc import Callable
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import raw_jobs
from figure_jobs import answered, program, renamed
from numpy.typing import NDArray
from pypdf import PdfReader
from raw_jobs import DEMO_A, Table, lump_job

import econ
from econ.decision.sensitivity import Sensitivity, sensitivity
from econ.reports.memo import memo_html, memo_pdf, pictures

SCENARIOS = DEMO_A.parent
DEMOS = {name: next(SCENARIOS.glob(f"{name}_*.toml")) for name in "abcde"}
LOGS = {"a log": ("a", "a_two_runs.csv"), "d log": ("d", "d_three_runs.csv")}
TEXT_OF_FILES = ("long", "hostile", "scripts")  # names as bad as a file can hold
ODD = ("no run", "one run", "stop", "metric", "sure and free", "lump", *TEXT_OF_FILES)
LOG_FILES = {name: SCENARIOS / "logs" / log for name, (_, log) in LOGS.items()}
LONG_NAME = (
    "Overshot with wall hook guides and bent joint, jars, accelerator, bumper sub and twelve "
    "collars on 5 in heavy drill pipe"
)


def priced(factor: float, currency: str) -> Table:
    """A job of five runs that costs about 150,000 times a factor."""
    odds = {"recovered": 0.4, "nothing": 0.5, "part": 0.1}
    raw = lump_job(odds, odds, odds)
    raw["currency"] = currency
    raw["rates"]["rig"] *= factor
    raw["fish"]["piece"][0]["value"] *= factor
    raw["fallback"][0]["cost"] *= factor
    return raw


STRAINED: dict[str, Callable[[], Table]] = {
    "twelve runs": lambda: program(12),
    "twelve long names": lambda: renamed(program(12), LONG_NAME),
    "thirty runs": lambda: program(30),
    "hundreds": lambda: priced(1e-3, "EUR"),
    "millions": lambda: priced(10.0, "NOK"),
    "billions": lambda: priced(1e4, "\u5143"),
}


@cache
def job(name: str) -> tuple[econ.Answer, Sensitivity]:
    """Answer and sensitivity, as the command asks for it, of a demo, of a demo after its log, or of
    an odd job."""
    if name in ODD:
        return answered(name), sensitivity(answered(name).scenario, n=16, learning=False)
    if name in STRAINED:
        strained = raw_jobs.scenario(STRAINED[name](), n=16, scrambles=16)
        return econ.answer(strained), sensitivity(strained, n=16, learning=False)
    demo, log = LOGS.get(name, (name, None))
    scenario = econ.load(DEMOS[demo], ["draws.n=32"])
    made = () if log is None else econ.read_log(SCENARIOS / "logs" / log, scenario)
    return econ.answer(scenario, made), sensitivity(scenario, made, n=16, learning=False)


@cache
def forms(name: str) -> tuple[bytes, bytes]:
    """HTML and PDF of a job, with pictures that are drawn once for both."""
    drawn = pictures(job(name)[0], ["html", "pdf"])
    return memo_html(*job(name), drawn), memo_pdf(*job(name), drawn)


class Reader(HTMLParser):
    """Text, tags and attributes of a page."""

    def __init__(self, page: bytes) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: set[str] = set()
        self.attributes: list[tuple[str, str | None]] = []
        self.inside = ""
        self.feed(page.decode("utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes += attrs
        self.inside = tag

    def handle_data(self, data: str) -> None:
        if self.inside not in ("style", "title"):
            self.words.append(data)

    @property
    def text(self) -> str:
        """All that is read."""
        return " ".join(self.words)


def pdf_text(data: bytes) -> str:
    """Text of all pages, without the number of the page."""
    text = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)
    return re.sub(r"Page \d+ of \d+\.", "", text)


def poppler(program: str) -> str:
    """A program of poppler; without it the test is skipped, in CI it fails."""
    found = shutil.which(program)
    if found is None:
        if os.environ.get("CI") == "true":
            pytest.fail(f"{program} is not installed, and in CI its tests may not be skipped")
        pytest.skip(f"{program} is not installed: the places of words cannot be read")
    return found


Page = tuple[float, float, NDArray[np.float64]]


def words_by_page(data: bytes, folder: Path) -> list[Page]:
    """Of each page its width, height [pt] and the left, top, right and bottom of every word."""
    source, boxes = folder / "memo.pdf", folder / "boxes.html"
    source.write_bytes(data)
    subprocess.run([poppler("pdftotext"), "-bbox", source, boxes], check=True)
    clean = re.sub(r"[\x00-\x08\x0b\x0c\x0e-\x1f]", "", boxes.read_text(encoding="utf-8"))
    space = "{http://www.w3.org/1999/xhtml}"
    pages = []
    for page in ElementTree.fromstring(clean).iter(f"{space}page"):
        keys = ("xMin", "yMin", "xMax", "yMax")
        words = [[float(word.attrib[key]) for key in keys] for word in page.iter(f"{space}word")]
        pages.append((float(page.attrib["width"]), float(page.attrib["height"]), np.array(words)))
    return pages
