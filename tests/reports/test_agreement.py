"""One ledger, one voice: every report shows the same figures of the same job.

Origin: independent of the program's own idea of its figures. Each report is read back as its
reader sees it (`agreement_readers`): printed digits to half of the last one, cells and data to
rounding. What two of them show of the same figure must agree, and a reader must show at least
the figures that stand for it in LISTED, so that nothing passes by being absent.

The sweep walks its row on as many draws as the answer here, without percentiles.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from functools import cache

import pytest
from agreement_jobs import COUNT, DEMOS, Job, N, random_one
from agreement_readers import (
    Reading,
    Shown,
    of_document,
    of_memo,
    of_page,
    of_sweep,
    of_text,
    of_whatif,
    of_whatif_text,
    of_workbook,
)
from raw_jobs import lump_job, scenario

from econ.decision import Answer
from econ.decision.sensitivity import Sensitivity, sensitivity
from econ.decision.sweep import sweep_row
from econ.decision.whatif import whatif
from econ.reports.memo import content
from econ.reports.memo.html import html as memo_page
from econ.reports.page import page_html
from econ.reports.supplement import supplement, workbook
from econ.reports.tables import document
from econ.reports.text import text
from econ.reports.whatif_tables import whatif_document
from econ.reports.whatif_text import whatif_text

# Figures that each reader shows: of any job; with a run left; with a run in the best limit;
# with a fallback that may be needed; with an authority; with hours to wait.
STAGE_1 = {"stage 1 planned", "stage 1 mean", "stage 1 P90"}
STAGE_2 = {"stage 2 chance", "stage 2 mean", "stage 2 P90"}
BEST = {"fish", "best limit", "days", "expected cost", "out"}
TOTAL = {"P10", "P50", "P90"}
NEXT = {"next odds", "needs", "next days", "next cost"}
GIVEN = {"suffices", "stage 1 suffices"}
CURVE = {"cost", "days", "out", "P10", "P50", "P90"}  # of every limit
LISTED: dict[str, dict[str, set[str]]] = {
    "json": {
        "any": {*BEST, *TOTAL, *STAGE_1, *STAGE_2, "error", "stopping now", "saving", "to the end"}
        | {"waiting", "response", "flat limits"},
        "ahead": {*NEXT, "gain"},
        "given": {*GIVEN, "authority"},
        "wait": {"spread"},
        "limit": {*CURVE, "error", "worst tenth"},
        "failures": {"belief", "odds"},
    },
    "text": {
        "any": {*BEST, *TOTAL, "error", "stopping now", "to the end", "hour"},
        "ahead": {*NEXT, "gain"},
        "fishes": {*STAGE_1, "dearer", "saving"},
        "fallback": STAGE_2,
        "given": {"suffices", "authority"},
        "wait": {"waiting", "response"},
        "limit": {*CURVE, "error", "worst tenth"},
        "failures": {"belief", "odds", "needs", "run cost"},
    },
    "memo": {
        "any": {*BEST, *TOTAL, "stopping now", "spread"}
        | {f"{name} in the stop rule" for name in ("best limit", "days", "money")},
        "ahead": {*NEXT, "gain", "to the end", "hour"},
        "fishes": {*STAGE_1, "saving"},
        "fallback": STAGE_2,
        "given": {"suffices", "authority"},
        "wait": {"waiting", "response"},
        "limit": {*CURVE, "worst tenth"},
        "failures": {"belief", "odds", "needs"},
    },
    "page": {
        "any": {*BEST, "stopping now", "saving", "to the end", "spread", "flat limits"}
        | {"stage 1 planned", "stage 1 mean", "stage 1 P90", "stage 2 chance", "stage 2 P90"}
        | {"waiting", "response", "expected cost of the file"},
        "ahead": {"next odds", "needs", "gain"},
        "fallback": {"stage 2 mean"},
        "given": {*GIVEN, "authority"},
        "limit": {"cost", "days", "out"},
    },
    "workbook": {
        "any": {*BEST, *TOTAL, *STAGE_1, *STAGE_2, "stopping now", "to the end", "spread"}
        | {"fishing day", "waiting", "response", "hour", "cost of both stages"},
        "ahead": NEXT,
        "limit": CURVE,
        "failures": {"belief", "odds", "needs", "run cost"},
    },
    "what-if": {
        "any": {*BEST, *TOTAL, "stopping now", "saving", "to the end", "dearer", "flat limits"}
        | {*STAGE_1, "stage 2 chance"},
        "ahead": {*NEXT, "belief 0", "gain"},
        "fallback": STAGE_2,
        "given": GIVEN,
        "limit": {"cost"},
    },
    "what-if in words": {
        "any": {*BEST, *TOTAL, "stopping now", "saving", "to the end", "dearer"}
        | {*STAGE_1, "stage 2 chance"},
        "ahead": {"next odds", "next days", "next cost", "belief 0"},
        "fallback": STAGE_2,
        "given": GIVEN,
        "limit": {"cost"},
    },
    "sweep": {
        "any": {"best limit", "days", "expected cost", "error", "stopping now", "saving", "out"}
        | {"to the end", "first flat limit", "last flat limit"},
    },
}
LISTED["workbook"]["any"] -= {"fish"}  # it asks for an authority and gives no order
SAME = {  # another place of the same figure
    "best limit in the stop rule": "best limit",
    "days in the stop rule": "days",
    "days of the side": "days",
    "cost of both stages": "expected cost",
    "expected cost of the file": "expected cost",
}
ROUNDING = 1e-9  # of the dearest limit: what sums of another order may differ by


@cache
def small() -> Sensitivity:
    """Fills the memo's table of what would change the answer, which is not read here."""
    return sensitivity(scenario(lump_job({"recovered": 0.5, "nothing": 0.5})))


def memo(found: Answer) -> bytes:
    """The memo without its pictures."""
    return memo_page(content(found, small()), {"curve": b"", "sketch": b""})


def readings(job: Job) -> dict[str, Reading]:
    """What every report shows of a job."""
    found = job.answer
    changed = job.scenario.model_copy(
        update={"common": job.scenario.common.model_copy(update={"cost": 12_345.0})}
    )
    compared = whatif(job.scenario, changed, job.log)
    shown = {
        "json": of_document(json.dumps(document(found))),
        "text": of_text(text(found)),
        "memo": of_memo(memo(found)),
        "page": of_page(page_html(found)),
        "workbook": of_workbook(workbook(supplement(found))),
    }
    if found.ended is None:  # a comparison of a job that is over says nothing of it
        shown["what-if"] = of_whatif(json.dumps(whatif_document(compared)))
        shown["what-if in words"] = of_whatif_text(whatif_text(compared))
    if not job.log:
        shown["sweep"] = of_sweep(sweep_row(job.text, job.overrides, N))
    return shown


def listed(reader: str, job: Job, json_reading: Reading) -> Iterator[str]:
    """Names of the figures that a reader must show of a job."""
    names = LISTED[reader]
    found, limits = json_reading, len(job.scenario.run) + 1 - len(job.log)
    over = bool(job.log) and job.log[-1].outcome in ("recovered", "string_lost", "hole_lost")
    limits = 1 if over else limits
    yield from names.get("any", set())
    if over:
        return
    best = found["best limit"].value
    if limits > 1:
        yield from names.get("ahead", set())
    if best > 0:
        yield from names.get("fishes", set())
        # a saving too small for the digits is not said; one that is none either
        assert "saving" in found
    if found["stage 2 chance"].value > 1e-9:
        yield from names.get("fallback", set())
    if job.scenario.limits.authority is not None and not job.answer.overspent:
        yield from names.get("given", set())
    if found["response"].value > 0:
        yield from names.get("wait", set())
    for n in range(limits):
        yield from (f"{name} {n}" for name in names.get("limit", set()))
    for k in range(sum(name.startswith("belief ") for name in found)):
        yield from (f"{name} {k}" for name in names.get("failures", set()))


def assert_all_listed(shown: Mapping[str, Reading], job: Job) -> None:
    """No reader shows less than is listed for it."""
    told = shown["json"]
    over = job.answer.ended is not None
    largest = max(shown.value for name, shown in told.items() if name.startswith("cost "))
    small_saving = told["saving"].value < 0.01 * largest
    for reader, reading in shown.items():
        may_lack = set()
        if over:  # what is left to do is said in fewer words
            may_lack = {"to the end", "hour", "out", "days", "best limit", *TOTAL, "stopping now"}
        if reader in ("text", "memo") and small_saving:
            may_lack.add("saving")
        if reader in ("text", "memo") and told["best limit"].value == 0:
            may_lack |= {"stage 1 suffices"}
        if math.isinf(told["needs"].value) if "needs" in told else False:
            may_lack |= {"needs"} if reader.startswith("what-if") else set()
        missing = set(listed(reader, job, told)) - set(reading) - may_lack
        assert not missing, f"{reader} does not show {sorted(missing)}"


def assert_agree(shown: Mapping[str, Reading]) -> int:
    """Every figure is the same wherever it is shown; how many stand in more than one place."""
    told = shown["json"]
    slack = ROUNDING * max(s.value for name, s in told.items() if name.startswith("cost "))
    places: dict[str, list[tuple[str, Shown]]] = {}
    for reader, reading in shown.items():
        for name, value in reading.items():
            places.setdefault(SAME.get(name, name), []).append((reader, value))
    compared = 0
    for name, values in places.items():
        sharpest_reader, sharp = min(values, key=lambda value: value[1].off)
        for reader, value in values:
            if value.value == sharp.value:
                continue
            off = abs(value.value - sharp.value)
            assert off <= value.off + sharp.off + slack, (
                f"{name}: {value.value:.12g} in {reader}, {sharp.value:.12g} in {sharpest_reader}"
            )
        compared += len(values) > 1
    return compared


def check(job: Job) -> dict[str, Reading]:
    """All reports of a job, held against one another."""
    shown = readings(job)
    assert_all_listed(shown, job)
    compared = assert_agree(shown)
    if job.answer.ended is None and job.answer.ahead:
        assert compared >= 40  # limits and failures counted one by one
    return shown


@pytest.mark.parametrize("name", DEMOS)
def test_demonstration_jobs_and_their_logs(name: str) -> None:
    check(DEMOS[name])


@pytest.mark.parametrize("seed", range(COUNT))
def test_random_jobs(seed: int) -> None:
    check(random_one(seed))
