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
import re
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

import pytest
from agreement_jobs import COUNT, DEMOS, POINT_D, A, Job, N, demo, random_one
from agreement_readers import (
    Reading,
    Shown,
    of_browser,
    of_document,
    of_memo,
    of_page,
    of_sweep,
    of_text,
    of_whatif,
    of_whatif_text,
    of_workbook,
)
from full_text import text
from page_browser import browser, chromium
from raw_jobs import lump_job, scenario

from econ.decision import Answer
from econ.decision.sensitivity import Sensitivity, sensitivity
from econ.decision.sweep import sweep_row
from econ.decision.whatif import whatif
from econ.reports.memo import content
from econ.reports.memo.html import html as memo_page
from econ.reports.page import page_html
from econ.reports.supplement import supplement, workbook
from econ.reports.supplement.words import asked_for
from econ.reports.tables import document
from econ.reports.whatif_tables import whatif_document
from econ.reports.whatif_text import whatif_text

# Percentiles are compared with one another, of the same bins.
pytestmark = pytest.mark.usefixtures("few_bins")

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
        | {"waiting", "response", "flat limits", "slice 1a planned"},
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
        - {"stage 1 P90", "stage 1 planned"}  # slices have their own
        | {"slice 1a planned"}
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


def page(found: Answer) -> bytes:
    """The page without where the verdict flips, which is not read here: half of its work."""
    return page_html(found, flips=())


@cache
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
        "page": of_page(page(found)),
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
    if limits > 1:
        yield from names.get("ahead", set())
    if found["best limit"].value > 0:
        yield from names.get("fishes", set())
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
    largest = max(shown.value for name, shown in told.items() if name.startswith("cost "))
    for reader, reading in shown.items():
        may_lack = set()
        if job.answer.ended is not None and reader in ("text", "memo"):
            may_lack |= {"hour"}  # nothing waits for a run any more
        if told["saving"].value < 0.01 * largest and reader in ("text", "memo"):
            may_lack |= {"saving"}  # too small for the digits, or none
        if "needs" in told and math.isinf(told["needs"].value):
            may_lack |= {"needs"}  # a comparison has no number for what never pays
        if len(job.scenario.doubts) > 1 and reader in ("text", "memo"):
            may_lack |= {name for name in told if name.startswith("belief ")}  # by doubt there
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


# ---- contradictions that were ------------------------------------------------------------------


def test_before_a_change_is_the_answer() -> None:
    # stage 2 once had a mean above its own P90 there, and a third of the chance in authority
    job, changed = DEMOS[POINT_D], DEMOS["d, even belief"]
    compared = json.dumps(whatif_document(whatif(job.scenario, changed.scenario)))
    for side, whole in (("before", job), ("after", changed)):
        told, shown = of_document(json.dumps(document(whole.answer))), of_whatif(compared, side)
        for name in ("expected cost", *sorted(STAGE_2), *sorted(GIVEN), *sorted(NEXT)):
            assert shown[name].value == pytest.approx(told[name].value, rel=1e-12), name
        assert shown["stage 2 mean"].value <= shown["stage 2 P90"].value
        assert shown["suffices"].value > 0.9


def test_before_a_change_that_adds_a_range_is_the_answer_within_its_error() -> None:
    # both sides have the points of one more column than the answer has
    job = demo("d_rented_tools.toml")
    more = demo("d_rented_tools.toml", None, "fallback.1.kickoff_length={low=20,high=40}")
    shown = of_whatif(json.dumps(whatif_document(whatif(job.scenario, more.scenario))))
    for n, limit in enumerate(job.answer.by_runs):
        off = shown[f"cost {n}"].value - limit.expected_cost
        assert abs(off) < 5.0 * limit.standard_error


def test_runs_that_do_not_pay_are_said_to_be_required_everywhere() -> None:
    job = DEMOS["b, hopeless"]
    told = of_document(json.dumps(document(job.answer)))
    assert told["saving"].value < 0 < told["best limit"].value  # else the case is another one
    for words in (text(job.answer), memo(job.answer).decode(), whatif_words(job)):
        words = " ".join(words.split())
        assert re.search("fish on, as required: at most 1 more run", words, re.IGNORECASE)
        assert not re.search(r"saves -|: -[\d,.]+ less than", words)
        assert "less than stopping now" not in words


def whatif_words(job: Job) -> str:
    """A job beside itself, in words."""
    return whatif_text(whatif(job.scenario, job.scenario, job.log))


def test_a_certain_recovery_leads_to_no_fallback_anywhere() -> None:
    job = random_one(7)
    told = of_document(json.dumps(document(job.answer)))
    assert told["out"].value == pytest.approx(1.0, abs=1e-12)
    verdicts = [
        text(job.answer).partition("IN FULL")[0].partition("\nRUN ")[0],
        re.findall(r'(?s)class="verdict">(.*?)<', memo(job.answer).decode())[0],
        whatif_words(job).partition("after:")[0],
    ]
    for words in verdicts:
        assert "at most" in words
        assert "then" not in words
    name = job.answer.fallbacks.taken.name
    assert not any(name in words for words in verdicts)
    assert "No fallback is asked for" in asked_for(supplement(job.answer))


@pytest.mark.parametrize("name", [name for name in DEMOS if "after" in name])
def test_a_wait_costs_the_same_after_a_log(name: str) -> None:
    job = DEMOS[name]
    shown = {reader: readings(job)[reader] for reader in ("json", "page", "workbook")}
    # by hand: 48 h at the spread, the same spread wherever it stands as a number; in A and C so
    # many more as stand between the end of the log and the second working day
    spread = shown["workbook"]["spread"].value
    days = job.answer.authority.waiting_hours / 24.0
    assert days == 2.0 or (days > 2.0 and job.scenario.limits.response_days == "working")
    for reading in shown.values():
        assert reading["waiting"].value == pytest.approx(days * spread, rel=1e-9)
        assert reading["spread"].value == pytest.approx(spread, rel=1e-9)
    if job.answer.ended != "recovered":
        words = readings(job)["text"]["waiting"]
        assert words.value == pytest.approx(days * spread, abs=words.off)


# ---- the page in a browser ---------------------------------------------------------------------


def test_the_page_says_the_same_in_a_browser(tmp_path: Path) -> None:
    path = tmp_path / "page.html"
    chromium()
    with browser() as tab:
        for job in (DEMOS[f"{POINT_D} after d_three_runs.csv"], random_one(1), DEMOS[f"point/{A}"]):
            path.write_bytes(page(job.answer))
            tab.open(path)
            shown = {
                "json": of_document(json.dumps(document(job.answer))),
                "browser": of_browser(tab.run("document.documentElement.outerHTML")),
            }
            names = {"fish", "best limit", "expected cost", "to the end", "next odds", "needs"}
            if shown["json"]["best limit"].value > 0:
                names |= {"days", "stage 1 planned", "stage 1 mean"}
                names |= {"stage 2 chance", "stage 2 mean"}
            names |= {f"cost {n}" for n in range(len(job.answer.by_runs))}
            assert names <= set(shown["browser"])
            assert assert_agree(shown) >= len(names)


# ---- what proves that this proves something ----------------------------------------------------


def test_readers_show_twenty_figures() -> None:
    shown = readings(DEMOS[POINT_D])
    for reader, reading in shown.items():
        names = {name for name in reading if not re.search(r" \d+$", name)}
        assert len(names) >= (10 if reader == "sweep" else 20), reader


@pytest.mark.parametrize("reader", [name for name in LISTED if name != "json"])
def test_a_figure_that_is_off_or_missing_is_seen(reader: str) -> None:
    job = DEMOS[POINT_D]
    shown = readings(job)
    for name in sorted(set(listed(reader, job, shown["json"]))):
        others = {SAME.get(n, n) for r in shown if r != reader for n in shown[r]}
        if SAME.get(name, name) not in others:
            continue
        value = shown[reader][name]
        off = Shown(1.1 * value.value + 2.0 * value.off + 0.02, value.off)
        if math.isfinite(value.value):
            with pytest.raises(AssertionError):
                assert_agree({**shown, reader: {**shown[reader], name: off}})
        less = {n: v for n, v in shown[reader].items() if n != name}
        with pytest.raises(AssertionError, match="does not show"):
            assert_all_listed({**shown, reader: less}, job)


def test_the_random_jobs_have_every_feature() -> None:
    jobs = [random_one(seed) for seed in range(COUNT)]
    fallbacks = [job.scenario.fallback for job in jobs]
    ranges = [bool(list(job.scenario.amounts())) for job in jobs]
    rented = [job.scenario.rental for job in jobs]
    runs = [job.scenario.run for job in jobs]
    counts = {
        "value given up": sum(
            any(getattr(f, "value_given_up", 0.0) for f in some) for some in fallbacks
        ),
        "several fallbacks": sum(len(some) > 1 for some in fallbacks),
        "whipstock": sum(any(getattr(f, "whipstock", None) for f in some) for some in fallbacks),
        "called out": sum(any(r.call_out is not None for r in some) for some in rented),
        "held": sum(any(r.held_days is not None for r in some) for some in rented),
        "minimum days": sum(any(r.minimum_days for r in some) for some in rented),
        "delivery": sum(any(r.delivery for r in some) for some in rented),
        "required runs": sum(job.scenario.minimum_runs > 0 for job in jobs),
        "certain recovery": sum(job.answer.limit.probability_recovered > 1 - 1e-9 for job in jobs),
        "ageing": sum(job.scenario.fishing.odds_ratio_per_day != 1.0 for job in jobs),
        "authority": sum(job.scenario.limits.authority is not None for job in jobs),
        "common hours": sum(job.scenario.common.hours != 0.0 for job in jobs),
        "partners": sum(bool(job.scenario.partner) for job in jobs),
        "lines": sum(bool(job.scenario.afe.line) for job in jobs),
        "log": sum(bool(job.log) for job in jobs),
        "no run": sum(not some for some in runs),
        "ranges": sum(ranges),
        "weights": sum(
            any(kind.weight is not None for run in some for kind in run.odds_by_kind())
            for some in runs
        ),
        "stops": sum(job.answer.best == 0 and bool(job.answer.ahead) for job in jobs),
        "fishes": sum(job.answer.best > 0 for job in jobs),
    }
    assert min(counts.values()) >= 2, counts
