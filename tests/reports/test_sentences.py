"""One voice: every case of a verdict, and that every report says the same of the same job.

Origins: what a case says is worked out by hand from the situation; the jobs are held against
`document` (what `econ answer --json` prints), whose figures have tests of their own.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache
from html import unescape
from pathlib import Path
from string import Formatter
from typing import Any

import pytest
from full_text import text
from matplotlib.text import Text
from page_browser import Browser, browser, chromium
from raw_jobs import RUN_BY_RUN, lump_job, scenario

import econ
from econ.decision.estimates import Estimate
from econ.decision.rentals import RentalCost
from econ.decision.sensitivity import sensitivity
from econ.decision.whatif import whatif
from econ.reports import sentences
from econ.reports.amounts import Amounts
from econ.reports.cautions import planned
from econ.reports.figures import alt_text, figure
from econ.reports.memo import memo_html
from econ.reports.memo.content import memo
from econ.reports.page import page_html
from econ.reports.sentences import LOUD, TEMPLATES, verdict
from econ.reports.supplement import supplement
from econ.reports.supplement.words import asked_for
from econ.reports.supplement.workbook import book
from econ.reports.tables import document
from econ.reports.tables.memo import assumptions
from econ.reports.tables.situation import Situation, case_of
from econ.reports.whatif_text import whatif_text
from econ.reports.words import Money
from econ.scenario.load import parse
from econ.scenario.run_log import LoggedRun

DEMOS = {
    path.name[0]: path
    for path in sorted((Path(__file__).parents[2] / "scenarios" / "point").glob("*.toml"))
}
STARTER = Path(econ.__file__).parent / "scenario" / "starter.toml"
MONEY = Amounts(largest=500.0, currency="USD")
# Two more runs save 90 of 300; the third is within 2 %; a fallback is needed with 40 %.
FISH = Situation(
    ended=None,
    limit=2,
    days=3.25,
    expected_cost=210.0,
    stopping_now=300.0,
    saving=90.0,
    best_with_a_run=210.0,
    to_the_end=240.0,
    fallback="Sidetrack",
    others=False,
    needed=0.4,
    least_runs=0,
    cost_of_minimum=0.0,
    flat=(2,),
    same=(),
    close=(),
    rule_gain=0.0,
    fish=True,
    listed=4,
)
STOP = replace(
    FISH,
    limit=0,
    days=0.0,
    expected_cost=300.0,
    saving=0.0,
    best_with_a_run=320.0,
    needed=1.0,
    flat=(0,),
    fish=False,
)


# ---- cases ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("situation", "case", "headline", "goes_with_it"),
    [
        (
            FISH,
            "fish",
            "Fish on: at most 2 more runs, about 3.2 days, then Sidetrack.",
            "Expected cost 210.0 USD: 90.0 less than stopping now (300.0).",
        ),
        (
            replace(FISH, limit=1, others=True),
            "fish",
            "Fish on: at most 1 more run, about 3.2 days, then Sidetrack, or whichever "
            "fallback is cheapest by then.",
            "Expected cost 210.0 USD: 90.0 less than stopping now (300.0).",
        ),
        (
            replace(FISH, needed=0.0),  # the fish comes out in any case
            "fish",
            "Fish on: at most 2 more runs, about 3.2 days.",
            "Expected cost 210.0 USD: 90.0 less than stopping now (300.0).",
        ),
        (
            replace(FISH, expected_cost=340.0, saving=-40.0, cost_of_minimum=40.0, least_runs=2),
            "fish_required",
            "Fish on, as required: at most 2 more runs, about 3.2 days, then Sidetrack.",
            "2 runs must be made (minimum_runs); without that it would cost 40.0 USD less. "
            "Expected cost 340.0 USD.",
        ),
        (
            replace(STOP, fish=True, rule_gain=12.0),
            "run_by_run",
            "Fish on, run by run: no limit by runs pays, but the rule by state does, by 12.0 USD. "
            "Decide after each outcome.",
            "Expected cost 300.0 USD; the best limit with a run in it costs 320.0.",
        ),
        (
            STOP,
            "stop",
            "Stop fishing: 0 more runs, 0 days; go to Sidetrack.",
            "Expected cost 300.0 USD; the best limit with a run in it costs 320.0.",
        ),
        (
            replace(STOP, plan_gain=12.0, plan_first="run 3, Spear"),
            "by_plan",
            "Fish on, by a plan: as listed the runs do not pay, but chosen after each outcome they "
            "save 12.0 USD. Begin with run 3, Spear.",
            "Expected cost 300.0 USD; the best limit with a run in it costs 320.0.",
        ),
        (
            replace(FISH, plan_gain=12.0, plan_first="run 3, Spear"),
            "fish",
            "Fish on: at most 2 more runs, about 3.2 days, then Sidetrack.",
            "Expected cost 210.0 USD: 90.0 less than stopping now (300.0). A plan that chooses the "
            "run after each outcome saves 12.0 USD more; it begins with run 3, Spear.",
        ),
        (
            replace(FISH, listed=2),  # the best limit is the end of the list
            "fish",
            "Fish on: at most 2 more runs, about 3.2 days, then Sidetrack.",
            "Expected cost 210.0 USD: 90.0 less than stopping now (300.0). The best limit is the "
            "end of the list: list a further run to see whether it pays.",
        ),
        (
            replace(STOP, listed=0, best_with_a_run=None),
            "no_run",
            "No run is left: fishing ends unless another is listed; go to Sidetrack.",
            "Expected cost 300.0 USD.",
        ),
        (
            replace(STOP, ended="recovered"),
            "recovered",
            "The fish is out: nothing is left to decide.",
            "The work after recovery costs 300.0 USD.",
        ),
        (
            replace(STOP, ended="string_lost"),
            "string_lost",
            "Fishing is over: the fishing string is lost.",
            "Sidetrack: expected cost 300.0 USD.",
        ),
        (
            replace(STOP, ended="hole_lost"),
            "hole_lost",
            "Fishing is over: the hole is lost.",
            "Sidetrack: expected cost 300.0 USD.",
        ),
    ],
)
def test_what_a_case_says(
    situation: Situation, case: str, headline: str, goes_with_it: str
) -> None:
    said = verdict(situation, MONEY)
    assert case_of(situation) == said.case == case
    assert said.headline == headline
    assert " ".join(said.sentences) == goes_with_it
    assert said.cost in said.sentences
    loud = verdict(situation, MONEY, terminal=True)
    assert loud.case == case
    assert loud.headline.lower() == headline.lower()
    verb = headline.partition(":")[0]
    assert loud.headline.startswith(f"{verb.upper()}:")
    assert "Sidetrack" not in verdict(situation, MONEY, brief=True).headline


def test_what_may_go_with_a_case() -> None:
    full = replace(
        FISH,
        rule_gain=15.0,
        flat=(1, 2, 4),
        same=(3,),
        close=(1, 4),
        readings=(("Caliper", 30.0, 20.0),),
    )
    said = verdict(full, MONEY).sentences
    assert said[1:] == (
        "Deciding after each outcome (rule by state) saves 15.0 USD more.",
        "Before that a reading pays: Caliper, worth 30.0 against 20.0.",
        "Flat: 1 to 2, 4 runs cost within 2 % of the best.",
        "Tie: 2 and 3 runs cost the same.",
        "Unresolved: 2, 1 and 4 runs differ by less than the error of the computation.",
    )
    loud = verdict(full, MONEY, terminal=True).sentences
    assert loud[-2] == "TIE: 2 and 3 runs cost the same."
    assert loud[-1].endswith("error of the computation; raise n under [draws].")
    # an amount that rounds to nothing is not said
    small = verdict(replace(FISH, saving=0.01, rule_gain=0.04), MONEY).sentences
    assert small == ("Expected cost 210.0 USD.",)


def test_names_stay_names() -> None:
    named = replace(FISH, fallback="caf\u00e9: {days} %s")
    assert verdict(named, MONEY).headline.endswith("then caf\u00e9: {days} %s.")
    assert verdict(named, MONEY, terminal=True).headline.endswith("then caf\u00e9: {days} %s.")


def test_rounding_forces_nobody() -> None:
    assert case_of(replace(FISH, cost_of_minimum=1e-11)) == "fish"


def test_templates_are_whole() -> None:
    for name, template in TEMPLATES.items():
        assert template.isascii(), name
        assert "  " not in template
        for _, place, spec, _ in Formatter().parse(template):
            assert place is None or re.fullmatch("[a-z_0-9]+", place), name  # as the page fills it
            assert not spec
    assert set(TEMPLATES) >= LOUD


@pytest.mark.parametrize(
    ("limits", "words"),
    [
        ((0,), "0 runs"),
        ((1,), "1 run"),
        ((2, 3), "2 to 3 runs"),
        ((2, 3, 4), "2 to 4 runs"),
        ((1, 4), "1 and 4 runs"),
        ((1, 3, 4, 5), "1, 3 to 5 runs"),
        ((0, 2, 4), "0, 2 and 4 runs"),
    ],
)
def test_flat_limits_need_not_be_neighbours(limits: tuple[int, ...], words: str) -> None:
    assert sentences.flat(limits) == words


def test_odds_that_no_run_has() -> None:
    assert sentences.odds_against(0.2, 0.35) == "0.20 against break-even 0.35"
    for need in (None, 1.01):
        assert sentences.odds_against(0.2, need) == "0.20; it pays by itself at no odds"


@pytest.mark.parametrize(
    ("changes", "action"),
    [
        ({"lost": True, "held": True}, "lost"),
        ({"needed": False, "held": True}, "release"),
        ({"needed": False, "mean": 5.0}, "too_early"),
        ({"needed": False, "mean": 0.0}, "do_not_order"),
        ({"held": True}, "keep"),
        ({"now_or_later": Estimate(-9.0, 1.0)}, "call_now"),
        ({"now_or_later": Estimate(9.0, 1.0)}, "call_with_run"),
        ({"now_or_later": Estimate(9.0, 8.0)}, "either"),
        ({"now_or_later": Estimate(1e-10, 0.0)}, "either"),  # the rounding of sums
    ],
)
def test_what_to_do_about_a_rented_tool(changes: dict[str, Any], action: str) -> None:
    tool = RentalCost(
        tool="Mill",
        first_run=1,
        needed=True,
        held=False,
        lost=False,
        mean=100.0,
        keep_day=1.0,
        minimum=10.0,
        wait=0.0,
        now_or_later=None,
    )
    assert replace(tool, **changes).action == action
    assert action in sentences.ACTIONS


# ---- every report says the same ---------------------------------------------------------------


def ended(outcome: str) -> econ.Answer:
    odds = {"recovered": 0.4, "string_lost": 0.1, "hole_lost": 0.1, "nothing": 0.4}
    begin = datetime(2026, 1, 1)
    row = LoggedRun(row=2, run=0, start=begin, end=begin + timedelta(days=1), outcome=outcome)
    job = scenario(lump_job(odds, odds, string_value=20_000), n=16, scrambles=16, seed=1)
    return econ.answer(job, [row])


def lump(*odds: dict[str, float], **more: Any) -> econ.Answer:
    return econ.answer(scenario({**lump_job(*odds), **more}, n=16, scrambles=16, seed=1))


JOBS: dict[str, tuple[Callable[[], econ.Answer], str]] = {
    **{
        name: (lambda path=path: econ.answer(econ.load(path, ["draws.n=16"])), "fish")  # type: ignore[misc]
        for name, path in DEMOS.items()
    },
    "required": (
        lambda: econ.answer(econ.load(DEMOS["b"], ["draws.n=16", "fishing.workable=0.05"])),
        "fish_required",
    ),
    "certain": (lambda: lump({"recovered": 1.0}), "fish"),
    "no run": (lump, "no_run"),
    "hopeless": (lambda: lump({"nothing": 1.0}, {"nothing": 1.0}), "stop"),
    "run by run": (lambda: econ.answer(parse(RUN_BY_RUN)), "run_by_run"),
    **{
        outcome: (lambda outcome=outcome: ended(outcome), outcome)  # type: ignore[misc]
        for outcome in ("recovered", "string_lost", "hole_lost")
    },
}
VERBS = {
    "fish": "fish on:",
    "fish_required": "fish on, as required:",
    "run_by_run": "fish on, run by run:",
    "stop": "stop fishing: 0 more runs",
    "no_run": "no run is left: fishing ends",
    "recovered": "the fish is out:",
    "string_lost": "fishing is over: the fishing string",
    "hole_lost": "fishing is over: the hole",
}


@pytest.fixture(scope="module")
def tab() -> Iterator[Browser]:
    chromium()
    with browser() as opened:
        yield opened


@cache
def answered(name: str) -> econ.Answer:
    return JOBS[name][0]()


def spaced(words: str) -> str:
    return " ".join(words.split())


def titles(answer: econ.Answer) -> str:
    """Every word on the figure of the curve."""
    return " ".join(each.get_text() for each in figure(answer, "curve").findobj(Text))


@cache
def memo_words(name: str) -> str:
    """What is read in the memo, without its pictures."""
    answer, none = answered(name), {"curve.svg": b"", "sketch.svg": b""}
    changing = sensitivity(answer.scenario, answer.log, n=16, learning=False)
    page = memo_html(answer, changing, none).decode()
    return unescape(re.sub(r"<[^>]*>", " ", page.partition("</style>")[2]))


@cache
def page_html_of(name: str) -> bytes:
    return page_html(answered(name), flips=())  # they are not read here


def page_words(name: str, tab: Browser, folder: Path) -> dict[str, str]:
    """Case, verdict and what goes with it, as a browser shows them at rest."""
    file = folder / "page.html"
    file.write_bytes(page_html_of(name))
    tab.open(file)
    shown: dict[str, str] = json.loads(
        tab.run("""JSON.stringify({
          kind: document.getElementById("verdict").dataset.kind,
          headline: document.getElementById("sentence").textContent,
          because: document.getElementById("because").textContent,
          authority: document.getElementById("authority").textContent,
        })""")
    )
    return shown


@pytest.mark.parametrize("name", JOBS)
def test_every_report_says_the_same(name: str, tab: Browser, tmp_path: Path) -> None:
    found, case = answered(name), JOBS[name][1]
    told, money = document(found), Money(found)
    page = page_words(name, tab, tmp_path)
    reports = {
        "text": spaced(text(found)),
        "memo": spaced(memo_words(name)),
        "page": spaced(f"{page['headline']} {page['because']}"),
        "title": spaced(titles(found)),
        "alt text": spaced(alt_text(found, "curve")),
    }
    assert page["kind"] == case
    best = told["by_runs"][told["answer"]["runs"]]
    cost = money.full(best["expected_cost"])
    for report, words in reports.items():
        said = words.lower()
        for other, verb in VERBS.items():
            assert (verb in said) == (other == case), (report, other)
        assert cost in words, report
        if case.startswith("fish"):
            days = f"{best['days']:.1f}"
            at_most = re.search(r"at most (\d+) more runs?, about ([\d.]+) days", words)
            assert at_most is not None, report
            assert at_most.groups() == (str(best["runs"]), days), report
        saving = f"{money.short(told['answer']['saving'])} less than stopping now"
        assert (saving in words) == (case == "fish" and told["answer"]["saving"] > 0), report
        assert "saves -" not in words
        assert "less than stopping now" in words or case != "fish"
    # sentence by sentence, where they are written out
    said = verdict(Situation.of_answer(found), Money(found))
    for report in ("memo", "page"):
        for sentence in (said.headline, *said.sentences):
            assert sentence in reports[report], report
    loud = verdict(Situation.of_answer(found), money, terminal=True)
    assert reports["text"].startswith(loud.headline)  # hazards stand between the two
    assert all(spaced(sentence) in reports["text"] for sentence in loud.sentences)
    needs_fallback = told["authority"]["stage_2"]["probability"] > 0
    for report in ("text", "memo", "page"):
        if case.startswith("fish"):
            head = re.search(r"at most \d+ more runs?, about [\d.]+ days([.,])", reports[report])
            assert head is not None
            assert (head.group(1) == ",") is needs_fallback, report


@pytest.mark.parametrize("name", ["a", "d", "required", "certain"])
def test_every_report_asks_for_the_same_money(name: str, tab: Browser, tmp_path: Path) -> None:
    found = answered(name)
    asked, money = document(found)["authority"], Money(found)
    reports = {
        "text": spaced(text(found)),
        "memo": spaced(memo_words(name)),
        "page": spaced(page_words(name, tab, tmp_path)["authority"]),
    }
    for report, words in reports.items():
        for number, stage in enumerate((asked["stage_1"], asked["stage_2"]), start=1):
            mean, p90 = (money.short(stage[key]) for key in ("mean", "p90"))
            said = f", P90 {p90}" in words and re.search(rf"mean {mean}\b", words) is not None
            assert said is (number == 1 or stage["probability"] > 0), (report, number)
        assert money.short(asked["stage_1"]["planned"]) + " " in words, report
        if asked["suffices"] is not None:
            chance = sentences.percent(asked["suffices"])
            assert f"suffices for the whole with {chance} chance" in words, report
            assert "in the order listed" in words, report


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("a", "or, if it is not, for the fallback (2)"),
        ("certain", "No fallback is asked for"),
        ("hopeless", "authority to stop fishing now. Fallback: complete above."),
        ("recovered", "The fish is out."),
        ("string_lost", "The string is lost."),
    ],
)
def test_the_supplement_asks_by_the_case(name: str, words: str) -> None:
    assert words in asked_for(supplement(answered(name)))


def test_a_change_is_said_with_the_same_verdict() -> None:
    # independent: the answers to both sides
    before = econ.load(DEMOS["b"], ["draws.n=16"])
    after = econ.load(DEMOS["b"], ["draws.n=16", "fishing.workable=0.05"])
    found = whatif(before, after)
    words = spaced(whatif_text(found))
    for side, job in (("before", before), ("after", after)):
        answer = econ.answer(job)
        situation = Situation.of_side(found, side)  # type: ignore[arg-type]
        assert case_of(situation) == case_of(Situation.of_answer(answer))
        brief = verdict(Situation.of_answer(answer), Money(answer), terminal=True, brief=True)
        assert f"{side}: {brief.headline}" in words


def test_planning_values_are_counted_and_called_so() -> None:
    # independent: a line of the starter with a value and a mark is one of them, odds one a run
    text = STARTER.read_text(encoding="utf-8")
    count = 0
    for section in re.split(r"^(?=\[)", text, flags=re.MULTILINE):
        marked = re.findall(r"^[^#\n]*[^#\s][^#\n]*#[ \t]*REPLACE", section, re.MULTILINE)
        odds = section.startswith("[run.odds")
        count += not section.startswith("[run.odds.stubborn]") if odds else len(marked)
    said = planned(parse(text))
    assert said is not None
    assert said.startswith(f"{count} planning values not looked at")
    fewer = planned(parse(text, ["well.depth=9800"]))
    assert fewer is not None
    assert fewer.startswith(f"{count - 1} planning values")
    assert planned(econ.load(DEMOS["a"])) is None
    # on page 1 of both papers, and in the list of what is assumed
    found = answered("a")
    known = replace(found, scenario=found.scenario.with_marks(("rates.rig",)))
    one = "1 planning value not looked at"
    changing = sensitivity(found.scenario, n=16, learning=False)
    assert memo(known, changing, {"curve": "", "sketch": ""}).caution.startswith(one)
    (page, *_) = book(supplement(known)).sheets
    assert any(str(each.content).startswith(one) for each in page.placed)
    spread = next(row for row in assumptions(known) if row["name"].startswith("spread"))
    assert spread["origin"].startswith("planning value of the scenario file, not looked at")
