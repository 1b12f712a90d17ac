"""The what-if page in a real browser: its numbers, its keys, its address, and what it refuses.

Origin of expected numbers: independent (the model in Python, which `test_page_model` sets against
the program; the program on a file with the sliders written in, `page_jobs.Job.program`; or the
answer of the file) unless a line says otherwise.
"""

from __future__ import annotations

import base64
import copy
import hashlib
import html
import json
import re
import tomllib
from collections.abc import Iterator
from dataclasses import asdict, replace
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from page_browser import Browser, browser, chromium, dumped
from page_jobs import CLOSE, DEMOS, ODD, Job, N, after_log, changed, demo, movable
from raw_jobs import RUN_BY_RUN, SCENARIO_A, Table, lump_job, read, scenario

import econ
from econ.decision.page_model import Position
from econ.decision.run_log import inputs_after
from econ.decision.sensitivity.bench import Bench
from econ.decision.sensitivity.break_even import break_evens
from econ.reports.cautions import FULL
from econ.reports.tables import document
from econ.reports.words import Money

LARGEST = 300_000  # bytes
SAME = 1e-6  # the page rounds its coefficients to nine figures
SHOWN = """(() => {
  const value = node => node && node.dataset.value !== "" ? Number(node.dataset.value) : null;
  const cells = [...document.querySelectorAll("#limits tbody tr")].map(row =>
    [...row.children].map(value));
  const flips = {};
  for (const row of document.querySelectorAll("#flip-rows tr"))
    (flips[row.dataset.flip] ||= []).push(value(row.children[1]));
  const one = id => value(document.getElementById(id));
  const box = document.getElementById("verdict").dataset;
  return {
    cells, flips, best: Number(box.best), flat: box.flat.split(",").map(Number),
    saving: Number(box.saving), planned: one("planned"), mean: one("mean"), need: one("need"),
    fallback: one("fallback-mean"), odds: one("next_odds-value"), waiting: one("waiting"),
    sentence: document.getElementById("sentence").textContent,
    because: document.getElementById("because").textContent,
  };
})()"""
HOSTILE = {
    "formula": "=1+1",
    "script": "<script>window.ran = 1</script>",
    "image": '"><img src=x onerror="window.ran = 1">',
    "closing": "</script><script>window.ran = 1</script><!--",
    "long": "W" * 300,
    "chinese": "\u6253\u635e\u4e95\u7b2c\u4e00\u53f7 \u6c34\u5e73\u4e95",
    "arabic": "\u0628\u0626\u0631 \u0627\u0644\u062a\u062c\u0631\u0628\u0629 \u0661",
    "template": "{{ 7 * 7 }} {% raw %} ${1+1} &lt;b&gt; \\u003cb\\u003e",
}

# Nothing is said here of a plan, and percentiles are compared with those of the same bins.
pytestmark = pytest.mark.usefixtures("few_bins", "few_states")


@pytest.fixture(scope="module")
def tab() -> Iterator[Browser]:
    chromium()
    with browser() as opened:
        yield opened


@pytest.fixture
def page(tmp_path: Path) -> Any:
    def write(made: Job, *, bare: bool = True) -> Path:
        file = tmp_path / "page.html"
        file.write_bytes(made.bare if bare else made.html)
        return file

    return write


def go(tab: Browser, address: str) -> Any:
    """Set the address of the page that is open, and read what it then shows."""
    script = f"""(async () => {{
      const before = location.href;
      const heard = new Promise(done => addEventListener("hashchange", done, {{ once: true }}));
      location.hash = {json.dumps(address)};
      if (location.href !== before) await heard;
      return {SHOWN};
    }})()"""
    answer = tab.call("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True)
    return answer["result"]["value"]


def shown_at(tab: Browser, addresses: list[str], script: str = SHOWN) -> Any:
    """What a script gives in the page that is open, at one address after another. Each is announced
    as `go` has the browser do it, but without a picture and an entry in its history for each."""
    return tab.run(f"""{json.dumps(addresses)}.map(address => {{
      history.replaceState(null, "", address);
      dispatchEvent(new Event("hashchange"));
      return {script};
    }})""")


def summed_at(tab: Browser, positions: list[Position]) -> Any:
    """What the sums of the page that is open come to at positions, without being shown there."""
    sums = (files("econ.reports.page") / "model.js").read_text(encoding="utf-8")
    assert sums in tab.run("[...document.scripts].at(-1).textContent")
    return tab.run(f"""(() => {{
      {sums}
      const made = makeModel(JSON.parse(document.getElementById("data").textContent));
      return {json.dumps([asdict(each) for each in positions])}.map(each => made.at(each));
    }})()""")


def settle(tab: Browser) -> None:
    """Wait until the page has written its address, as it does before it is printed."""
    tab.run("dispatchEvent(new Event('beforeprint'))")


def compare(shown: Any, made: Job, position: Position) -> None:
    """What is shown at a position is what the model gives there."""
    model = made.model.at(position)
    cells = np.array(shown["cells"], dtype=float)
    for place, name in ((1, "days"), (2, "recovered"), (3, "cost")):
        np.testing.assert_allclose(cells[:, place], getattr(model, name), rtol=SAME, atol=SAME)
    best, least = shown["best"], made.model.minimum
    assert model.cost[best] == pytest.approx(model.cost[least:].min(), rel=SAME)
    scale = abs(model.cost[0])
    assert shown["saving"] == pytest.approx(model.cost[0] - model.cost[best], abs=SAME * scale)
    assert shown["mean"] == pytest.approx(model.fishing[best], rel=SAME, abs=SAME)
    if best > 0:
        assert shown["planned"] == pytest.approx(model.planned[best], rel=SAME)
    assert shown["need"] == pytest.approx(1 - model.recovered[best], abs=SAME)
    assert shown["fallback"] == pytest.approx(model.fallback[best], rel=SAME, abs=SAME)
    if len(cells) > 1:
        assert shown["flips"]["next_odds"][0] == pytest.approx(model.break_even, abs=SAME)


# ---- the browser ------------------------------------------------------------------------------


def test_without_a_browser_the_tests_are_skipped_but_not_in_ci(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("shutil.which", lambda name: None)
    monkeypatch.delenv("CI", raising=False)
    with pytest.raises(pytest.skip.Exception, match="Chromium is not installed"):
        chromium()
    monkeypatch.setenv("CI", "true")
    with pytest.raises(pytest.fail.Exception, match="may not be skipped"):
        chromium()


# ---- numbers ----------------------------------------------------------------------------------


@pytest.mark.parametrize("letter", sorted(DEMOS))
def test_every_corner_and_places_between_are_the_model(
    letter: str, tab: Browser, page: Any
) -> None:
    # every corner by the sums of the page, and some of them and places between as it shows them
    made = demo(letter)
    tab.open(page(made))
    corners, between = made.corners(), made.between(10, seed=1)  # 50 of all jobs
    assert len(corners) >= 2 ** len(made.model.knobs)
    for position, found in zip(corners, summed_at(tab, corners), strict=True):
        model = made.model.at(position)
        for name in ("days", "recovered", "cost", "planned", "fishing", "fallback"):
            shown = np.array(found[name], dtype=float)
            np.testing.assert_allclose(shown, getattr(model, name), rtol=SAME, atol=SAME)
    positions = corners[::9] + between
    addresses = [made.address(position) for position in positions]
    for position, shown in zip(positions, shown_at(tab, addresses), strict=True):
        compare(shown, made, position)
    assert tab.said == []


@pytest.mark.parametrize("name", [name for name in ODD if name != "no run"])
def test_odd_jobs_are_the_model(name: str, tab: Browser, page: Any) -> None:
    # that the model is the program is in `test_page_model`
    made = ODD[name]()
    tab.open(page(made))
    positions = made.corners()[::9] + made.between(3)
    addresses = [made.address(position) for position in positions]
    for position, shown in zip(positions, shown_at(tab, addresses), strict=True):
        compare(shown, made, position)
    assert tab.said == []


def test_what_a_plain_key_changes_is_what_its_slider_changes(tab: Browser, page: Any) -> None:
    # independent: the whole program on the file with its rates changed, verdict and all
    made = movable("a")
    tab.open(page(made))
    seen = set()
    for spread in (0.6, 1.0, 1.9):
        position = replace(made.model.base, spread=spread, fishing_day=1.5)
        said = document(econ.answer(scenario(made.written(position), n=N)))
        shown = go(tab, made.address(position))
        assert shown["best"] == said["answer"]["runs"]
        assert shown["flat"] == said["answer"]["flat_limits"]
        assert shown["saving"] == pytest.approx(said["answer"]["saving"], rel=1e-5)
        assert shown["flips"]["next_odds"][0] == pytest.approx(
            said["next_run"]["break_even_odds"], abs=2e-3
        )
        assert shown["waiting"] == pytest.approx(said["authority"]["waiting_cost"], rel=1e-6)
        seen.add(shown["best"])
    assert len(seen) > 1


def test_flips_are_where_the_program_has_no_preference(tab: Browser, page: Any) -> None:
    found = set()
    for letter, more in (("a", 2), ("c", 1), ("d", 0)):
        made = movable(letter)
        tab.open(page(made, bare=False))
        for position in [made.model.base, *made.between(more, seed=2)]:
            shown = go(tab, made.address(position))
            for name in ("workable", "spread", "fallback"):
                for value in shown["flips"][name]:
                    if value is None or (name == "fallback" and value < 1.0):
                        continue  # no cost of a file is negative
                    cost = made.program(replace(position, **{name: value})).cost
                    assert cost[1:].min() == pytest.approx(cost[0], rel=CLOSE)
                    found.add(name)
    assert found >= {"workable", "spread"}


def test_a_fallback_flips_where_its_line_crosses(tab: Browser, page: Any) -> None:
    # closed form: 24,000 for a run, 0.3 of a fallback that now costs 190,000
    tab.open(page(few(lump_job({"recovered": 0.3, "nothing": 0.7})), bare=False))
    assert go(tab, "")["flips"]["fallback"] == [pytest.approx(80 / 190, rel=1e-6)]


@pytest.mark.parametrize("letter", sorted(DEMOS))
def test_flips_are_those_of_the_sensitivity(letter: str, tab: Browser, page: Any) -> None:
    made = movable(letter)
    tab.open(page(made, bare=False))
    shown = go(tab, "")["flips"]
    bench = Bench(inputs_after(made.scenario, made.log))
    flips = [each for each in break_evens(bench) if each.rule == "best limit"]
    moved = go(tab, "trip_speed=1.0000001")["flips"]  # what the page works out by itself
    for name in ("workable", "spread", "fallback"):
        if name not in shown:  # several doubts, and no single belief to be moved
            assert letter == "e"
            continue
        said = sorted(each.at for each in flips if each.input == name and each.at is not None)
        if said:
            assert sorted(shown[name]) == pytest.approx(said, rel=1e-12)
            assert sorted(moved[name]) == pytest.approx(said, rel=5e-3)
        else:
            assert shown[name] == [None]


def test_no_flip_is_said_only_where_there_is_none(tab: Browser, page: Any) -> None:
    made = movable("a")
    tab.open(page(made, bare=False))
    shown = go(tab, "")
    assert shown["flips"]["spread"] == [None]
    for spread in np.geomspace(0.1, 10.0, 9):
        cost = made.program(replace(made.model.base, spread=float(spread))).cost
        assert cost[1:].min() < cost[0]


@pytest.mark.parametrize("letter", sorted(DEMOS))
def test_at_rest_the_page_is_the_answer(letter: str, tab: Browser, page: Any) -> None:
    made = demo(letter)
    tab.open(page(made, bare=False))
    shown, tables, money = tab.run(SHOWN), document(made.answer), Money(made.answer)
    said, stages = tables["answer"], tables["authority"]
    assert (shown["best"], shown["flat"]) == (said["runs"], said["flat_limits"])
    for cells, row in zip(shown["cells"], tables["by_runs"], strict=True):
        assert cells[0] == row["runs"]
        assert cells[1:4] == pytest.approx(
            [row["days"], row["probability_recovered"], row["expected_cost"]], rel=1e-6, abs=1e-9
        )
    run = tables["next_run"]
    if any(knob.name == "next_odds" for knob in made.model.knobs):  # not of a dressing run
        assert shown["odds"] == pytest.approx(run["odds"], rel=1e-9)
    assert shown["flips"]["next_odds"] == [pytest.approx(run["break_even_odds"], rel=1e-6)]
    one, two = stages["stage_1"], stages["stage_2"]
    assert shown["mean"] == pytest.approx(one["mean"], rel=1e-6)
    assert shown["planned"] == pytest.approx(one["planned"], rel=1e-6)
    assert shown["need"] == pytest.approx(two["probability"], rel=1e-6)
    assert shown["fallback"] == pytest.approx(two["mean"], rel=1e-6)
    # and in words, rounded as the text of the answer rounds them
    assert f"{said['days']:.1f} days" in shown["sentence"]
    for figure in ("expected_cost", "saving", "fallback_now"):
        assert money.short(said[figure]) in shown["because"]
    low, high = said["flat_runs"]
    if said["flat_limits"] == list(range(low, high + 1)):
        assert low == high or f"{low} to {high} runs cost within 2 %" in shown["because"]


def test_the_log_of_runs_moves_the_page(tab: Browser, page: Any) -> None:
    made = after_log("a")
    tab.open(page(made))
    shown = tab.run(SHOWN)
    assert len(shown["cells"]) == len(made.scenario.run) - 2 + 1
    assert "after 2 runs of the log" in tab.run("document.body.innerText")


def over(outcome: str) -> Job:
    odds = {"recovered": 0.4, "string_lost": 0.1, "hole_lost": 0.1, "nothing": 0.4}
    raw = lump_job(odds, odds, string_value=20_000)
    from test_page_model import logged

    return Job(raw, [logged(0, outcome)], n=16, scrambles=16, seed=1)


@pytest.mark.parametrize(
    ("outcome", "words"),
    [("recovered", "The fish is out"), ("string_lost", "string is lost"), ("hole_lost", "hole is")],
)
def test_a_job_that_is_over(outcome: str, words: str, tab: Browser, page: Any) -> None:
    made = over(outcome)
    tab.open(page(made))
    shown = tab.run(SHOWN)
    assert words in shown["sentence"]
    assert shown["cells"][0][3] == pytest.approx(made.answer.by_runs[0].expected_cost, rel=1e-6)
    assert tab.said == []


def test_a_job_without_runs(tab: Browser, page: Any) -> None:
    made = Job(lump_job(), n=16, scrambles=16, seed=1)
    tab.open(page(made))
    assert "No run is left" in tab.run(SHOWN)["sentence"]
    shown = go(tab, "#spread=2")
    # closed form: 100 h at 2,000, 50,000 and the fish of 40,000
    assert shown["cells"][0][3] == pytest.approx(290_000, rel=1e-6)


# ---- the address ------------------------------------------------------------------------------


def test_an_address_opens_the_case_that_it_was_taken_from(tab: Browser, page: Any) -> None:
    made = demo("b")
    file = page(made)
    tab.open(file)
    for key in ("spread", "workable", "trip_speed"):
        tab.run(f"document.getElementById('{key}').focus()")
        for _ in range(3):
            tab.press("ArrowLeft", 37)
    assert tab.run("location.hash") == ""  # not at every step: browsers stop listening to that
    settle(tab)
    address, shown = tab.run("location.hash"), tab.run(SHOWN)
    assert set(re.findall(r"(\w+)=", address)) == {"spread", "workable", "trip_speed"}
    tab.open(file, address)
    assert tab.run(SHOWN) == shown
    assert tab.run("location.hash") == address


def test_the_same_case_from_a_browser_that_only_dumps_it(page: Any) -> None:
    made = demo("a")
    (position,) = made.between(1, seed=9)
    text = dumped(page(made), made.address(position))
    best = int(re.search(r'id="verdict"[^>]*data-best="(\d+)"', text)[1])  # type: ignore[index]
    cost = float(re.search(r'id="verdict"[^>]*data-cost="([\d.]+)"', text)[1])  # type: ignore[index]
    assert cost == pytest.approx(made.model.at(position).cost[best], rel=SAME)


@pytest.mark.parametrize(
    "address",
    ["#spread=", "#spread=abc", "#other=3", "#<img src=x onerror=window.ran=1>", "#%", "#a=%zz"],
)
def test_an_address_that_says_nothing_is_the_file(address: str, tab: Browser, page: Any) -> None:
    made = demo("a")
    tab.open(page(made))
    rest = tab.run(SHOWN)
    assert go(tab, address) == rest
    assert tab.run("window.ran") is None


def test_an_address_beyond_the_ends_is_at_the_ends(tab: Browser, page: Any) -> None:
    made = demo("a")
    tab.open(page(made))
    at_end = go(tab, "#spread=2&workable=1")
    assert go(tab, "#spread=1e9&workable=7") == at_end
    assert go(tab, "#spread=Infinity") == go(tab, "")


# ---- keys and reading -------------------------------------------------------------------------


def test_it_can_be_worked_by_keys_alone(tab: Browser, page: Any) -> None:
    made = demo("a")
    tab.open(page(made))
    rest = tab.run(SHOWN)
    seen = []
    for _ in range(10):
        tab.press("Tab", 9)
        seen.append(tab.run("document.activeElement.id"))
        if seen[-1] == "trip_speed":
            break
    assert [each for each in seen if each] == [knob.name for knob in made.model.knobs]
    tab.run("document.getElementById('spread').focus()")
    tab.press("End", 35)
    settle(tab)
    assert tab.run("location.hash") == "#spread=2"
    shown = tab.run(SHOWN)
    compare(shown, made, replace(made.model.base, spread=2.0))
    tab.press("ArrowLeft", 37)
    settle(tab)
    assert tab.run("location.hash") == "#spread=1.98"
    tab.run("document.getElementById('reset').focus()")
    tab.press("Enter", 13)
    tab.call("Input.dispatchKeyEvent", type="char", text="\r")
    assert tab.run("location.hash") == ""
    assert tab.run(SHOWN) == rest
    assert tab.run("document.getElementById('reset').disabled") is True


def test_every_slider_says_what_it_is_and_where_it_stands(tab: Browser, page: Any) -> None:
    made = demo("a")
    tab.open(page(made))
    for knob in made.model.knobs:
        said = tab.run(
            f"(() => {{ const n = document.getElementById('{knob.name}');"
            "return [n.labels[0].textContent, n.getAttribute('aria-valuetext'),"
            "document.getElementById(n.getAttribute('aria-describedby')).textContent] })()"
        )
        assert all(words.strip() for words in said)
        assert said[1] == tab.run(f"document.getElementById('{knob.name}-value').textContent")
    assert tab.run("document.documentElement.lang") == "en"
    label = tab.run("document.getElementById('curve').getAttribute('aria-label')")
    assert "Lowest at 3 runs" in label


def test_a_reader_aloud_hears_the_verdict_once_it_has_settled(tab: Browser, page: Any) -> None:
    made = demo("a")
    tab.open(page(made))
    heard = """(() => { const said = []; window.said = said;
      new MutationObserver(() => said.push(document.querySelector("[role=status]").textContent))
        .observe(document.querySelector("[role=status]"), { childList: true }); })()"""
    tab.run(heard)
    assert tab.run("document.querySelectorAll('[aria-live], [role=status]').length") == 1
    tab.run("document.getElementById('workable').focus()")
    for _ in range(30):
        tab.press("ArrowLeft", 37)
    wait = "new Promise(done => setTimeout(done, 600))"
    tab.call("Runtime.evaluate", expression=wait, awaitPromise=True)
    assert tab.run("window.said") == [tab.run(SHOWN)["sentence"]]
    assert tab.run("location.hash") == "#workable=0.4"


# ---- words ------------------------------------------------------------------------------------


def few(raw: Table) -> Job:
    return Job(raw, n=16, scrambles=16, seed=1)


def test_limits_that_are_not_told_apart_are_named(tab: Browser, page: Any) -> None:
    # closed form: at spread s stopping costs 100,000 s + 90,000, one run 24,000 s and 0.85 of it;
    # they cross at s = 1.5
    made = few(lump_job({"recovered": 0.15, "nothing": 0.85}))
    tab.open(page(made))
    words = "Unresolved: 0 and 1 runs differ by less than the error of the computation."
    assert words in go(tab, "#spread=1.5")["because"]
    assert "Unresolved" not in go(tab, "#spread=1.45")["because"]
    assert "Unresolved" not in go(tab, "")["because"]


def test_flat_limits_need_not_be_neighbours(tab: Browser, page: Any) -> None:
    # closed form: at spread s stopping costs 100,000 s + 90,000, a first run 24,000 s more, and
    # with the second 48,000 s + 0.75 of it: 190,000, 214,000 and 190,500 at s = 1
    made = few(lump_job({"nothing": 1.0}, {"recovered": 0.25, "nothing": 0.75}))
    tab.open(page(made))
    for address in ("", "#spread=1.01"):
        shown = go(tab, address)
        assert shown["flat"] == [0, 2]
        assert "Flat: 0 and 2 runs cost within 2 % of the best." in shown["because"]
        assert tab.run("document.querySelectorAll('#curve rect.flat').length") == 2


def test_limits_that_cost_the_same_are_a_tie(tab: Browser, page: Any) -> None:
    # closed form: 19 h at 1,000 are 0.1 of the 190,000 that a fallback costs
    made = few(lump_job({"recovered": 0.1, "nothing": 0.9}, hours=19.0))
    assert made.answer.not_told_apart
    tab.open(page(made))
    assert re.search(r"Tie: \d and \d runs cost the same\.", tab.run(SHOWN)["because"])


def test_the_rule_by_state_is_followed_where_it_alone_pays(tab: Browser, page: Any) -> None:
    # closed form: looking costs 2,000 and pays with a part (0.3), after which a run of 30,000
    # recovers with 0.9: 2,000 + 0.7 x 100,000 + 0.3 x (30,000 + 0.1 x 100,000) = 84,000
    made = Job(tomllib.loads(RUN_BY_RUN))
    tab.open(page(made))
    shown = tab.run(SHOWN)
    assert shown["sentence"].startswith("Fish on, run by run: no limit by runs pays")
    assert "by 16 thousand USD" in shown["sentence"]
    assert tab.run("document.getElementById('verdict').className") == "fish"
    moved = go(tab, "#spread=1.1")
    assert moved["sentence"].startswith("Stop fishing")
    assert "is not worked out" in moved["because"]


def test_the_fallback_taken_is_named(tab: Browser, page: Any) -> None:
    # closed form: 100 h and 50,000 against 10 h and 120,000 cross at a spread of 7/9
    raw = lump_job({"recovered": 0.01, "nothing": 0.99})
    raw["fallback"].append({"name": "away", "kind": "abandon", "hours": 10, "cost": 120_000})
    tab.open(page(few(raw)))
    assert "go to complete above." in go(tab, "#spread=0.7")["sentence"]
    assert "go to away." in go(tab, "#spread=0.85")["sentence"]


def test_runs_that_must_be_made_are_said(tab: Browser, page: Any) -> None:
    made = changed("a", "limits", "minimum_runs", 4)
    tab.open(page(made))
    shown = tab.run(SHOWN)
    assert shown["sentence"].startswith("Fish on, as required: at most 4 more runs")
    less = Money(made.answer).full(made.answer.cost_of_minimum)
    assert (
        f"4 runs must be made (minimum_runs); without that it would cost {less} less"
        in shown["because"]
    )


def test_percentiles_are_those_of_the_file_and_say_their_sense(tab: Browser, page: Any) -> None:
    made = demo("d")
    tab.open(page(made))
    money, asked = Money(made.answer), made.answer.authority
    text = tab.run("document.getElementById('authority').textContent")
    for stage in (asked.stage_1, asked.stage_2):
        assert f"P90 {money.short(stage.p90)}" in text
    assert "P90 is not exceeded 90 % of the time" in text
    assert asked.suffices is not None
    assert f"suffices for the whole with {100 * asked.suffices:.0f} %" in text
    go(tab, "#spread=1.1")
    moved = tab.run("document.getElementById('authority').textContent")
    assert "known for the file's case only" in moved
    assert "P90 4" not in moved


def test_it_says_from_how_many_draws_and_how_far_off(page: Any) -> None:
    made = demo("a")
    text = " ".join(re.sub(r"<[^>]*>", "", made.html.decode()).split())
    assert f"16 scrambles of {N} draws, seed 7" in text
    assert "no limit was off by more than 0.25 % of its cost" in text
    assert "standard error of" in text


@pytest.mark.parametrize("width", [320, 360, 768, 1280])
def test_nothing_is_wider_than_the_window(width: int, tab: Browser, page: Any) -> None:
    made = demo("b")
    tab.width(width)
    tab.open(page(made), made.address(made.corners()[-1]))
    assert tab.run("document.documentElement.scrollWidth") <= width


def test_the_picture_keeps_its_words_apart(tab: Browser, page: Any) -> None:
    clash = """(() => {
      const boxes = [...document.querySelectorAll("#curve text")].map(t => t.getBoundingClientRect());
      const frame = document.getElementById("curve").getBoundingClientRect();
      let found = 0;
      boxes.forEach((a, i) => {
        if (a.left < frame.left - 1 || a.right > frame.right + 1 || a.bottom > frame.bottom + 1) found++;
        boxes.slice(i + 1).forEach(b => {
          if (a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 2 && b.top < a.bottom - 2) found++;
        });
      });
      return found;
    })()"""  # noqa: E501
    many = read(SCENARIO_A)
    many["run"] = [{**many["run"][n % 5], "name": f"run {n}"} for n in range(12)]
    one = {**many, "run": many["run"][:1]}
    jobs = [demo(letter) for letter in sorted(DEMOS)]
    jobs += [few(raw) for raw in (many, one)]
    for made in jobs:
        tab.open(page(made))
        for width in (360, 1280):
            tab.width(width)
            positions = [made.model.base, *made.corners()[::21]]
            found = shown_at(tab, [made.address(position) for position in positions], clash)
            assert found == [0] * len(positions), width


def test_a_print_shows_the_case_that_is_set(tab: Browser, page: Any) -> None:
    pypdf = pytest.importorskip("pypdf")
    made = demo("a")
    tab.width(1280)
    tab.open(page(made), "#workable=0.4&spread=1.5")
    shown = tab.run(SHOWN)
    printed = tab.call("Page.printToPDF", preferCSSPageSize=True)["data"]
    import io

    reader = pypdf.PdfReader(io.BytesIO(base64.b64decode(printed)))
    text = re.sub(r"\s+", " ", " ".join(each.extract_text() for each in reader.pages))
    assert len(reader.pages) == 2
    for words in (shown["sentence"], "#spread=1.5&workable=0.4", "40 %", FULL[0][1][:40]):
        assert words in text


# ---- what it refuses --------------------------------------------------------------------------


def hostile(words: str) -> Job:
    odds = {"recovered": 0.4, "nothing": 0.6}
    raw: Table = lump_job(odds, odds)
    raw["job"] = {"well": words, "event": words}
    raw["currency"] = words[:12]
    for run in raw["run"]:
        run["name"] = words
    raw["fallback"][0]["name"] = words
    second = {"name": words, "kind": "abandon", "hours": 20, "cost": 900_000}
    raw["fallback"].append(second)
    raw["rates"] = {words: 24_000}
    return few(raw)


def test_hostile_text_in_a_browser_that_only_dumps_it(page: Any) -> None:
    words = HOSTILE["closing"]
    text = dumped(page(hostile(words)))
    assert html.escape(words, quote=False) in text
    # only as text, and in the data as \u003c
    assert words not in text


@pytest.mark.parametrize("words", HOSTILE.values(), ids=HOSTILE)
def test_text_of_a_scenario_stays_text(words: str, tab: Browser, page: Any) -> None:
    made = hostile(words)
    tab.width(360)
    file = page(made)
    tab.open(file)
    go(tab, "#spread=1.5&next_odds=0.1")
    assert tab.run("window.ran") is None
    assert tab.run("document.querySelectorAll('img, iframe, object, b b').length") == 0
    assert tab.run("document.querySelectorAll('script').length") == 2
    squeezed = " ".join(words.split())
    assert tab.run("document.querySelector('h1').textContent") == words
    assert squeezed in " ".join(tab.run("document.title").split())
    assert tab.run("document.documentElement.scrollWidth") <= 360
    assert tab.said == []


def test_it_asks_the_network_for_nothing(tab: Browser, page: Any) -> None:
    made = demo("a")
    tab.requests.clear()
    file = page(made)
    tab.open(file)
    for position in made.corners()[:4]:
        go(tab, made.address(position))
    asked = {url.partition("?")[0] for url in tab.requests if url != "about:blank"}
    assert asked == {file.as_uri()}
    policy = re.search(rb'Content-Security-Policy" content="([^"]*)"', made.html)
    assert policy is not None
    assert policy[1].startswith(b"default-src 'none'; script-src 'sha256-")
    assert b"unsafe" not in policy[1]


def test_the_policy_names_the_only_script_and_style(tab: Browser, page: Any) -> None:
    made = demo("a")
    text = made.html.decode()
    for tag, name in (("script", "script-src"), ("style", "style-src")):
        (body,) = re.findall(rf"<{tag}>(.*?)</{tag}>", text, flags=re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(body.encode()).digest()).decode()
        assert f"{name} 'sha256-{digest}'" in text
    tab.open(page(made))
    tab.run(
        "(() => { const s = document.createElement('script'); s.textContent = 'window.ran = 1';"
        "document.body.append(s); document.body.setAttribute('onclick', 'window.ran = 1');"
        "document.body.click(); fetch('https://example.org').catch(() => 0); })()"
    )
    assert tab.run("window.ran") is None
    assert any("Content Security Policy" in said for said in tab.said)
    tab.said.clear()


@pytest.mark.parametrize("letter", sorted(DEMOS))
def test_it_is_small(letter: str) -> None:
    assert len(demo(letter).html) < LARGEST


@pytest.mark.parametrize("letter", ["a", "d"])
def test_it_is_the_same_bytes_each_time(letter: str) -> None:
    again = Job(read(DEMOS[letter]), n=N)
    assert again.html == demo(letter).html


def test_twelve_runs_and_three_fallbacks_make_a_small_page() -> None:
    raw = read(SCENARIO_A)
    raw["run"] = [{**copy.deepcopy(raw["run"][n % 5]), "name": f"run {n}"} for n in range(12)]
    raw["fallback"] += [
        {"name": "x", "kind": "complete_above", "hours": 60, "cost": 300_000},
        {"name": "y", "kind": "abandon", "hours": 20, "cost": 640_000, "lost_in_hole_share": 0.4},
    ]
    made = Job(raw, n=32, scrambles=16, seed=1)
    assert len(made.html) < 2 * LARGEST
    for position in made.between(2):
        np.testing.assert_allclose(
            made.model.at(position).cost, made.program(position).cost, rtol=CLOSE
        )
