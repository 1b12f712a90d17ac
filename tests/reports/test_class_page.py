"""The class page in a real browser, played by teams that type well and badly.

Origin of expected numbers: independent (`class_play`, the game in Python on the model that
`tests/decision/test_class_model.py` sets against answers, plans and lessons; or `econ.lessons`)
unless a line says otherwise.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
import random
import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from class_play import STOP, Do, Envelope, Player, Score
from page_browser import Browser, browser, chromium, dumped
from raw_jobs import SCENARIO_A, metric, read
from raw_jobs import scenario as checked

import econ
from econ.decision.class_model import ClassModel, class_model
from econ.decision.run_log import standing
from econ.reports.class_page import class_page_html
from econ.scenario import Scenario

pytestmark = pytest.mark.usefixtures("few_bins")
FOLDER = Path(__file__).parents[2] / "scenarios"
LOGS = ("a_class_job", "a_class_job_other_end")
LARGEST = 1_000_000  # bytes, of a job at single numbers
SAME = 1e-6  # the page rounds to nine figures
ROWS = """[...document.querySelectorAll("#scores tbody tr")].map(row => [row.dataset.name,
  ...[...row.children].slice(1).map(cell => cell.dataset.value === undefined ? null
    : Number(cell.dataset.value))])"""
IN_SIGHT = """(bars => bars.length === 1 && bars[0].top >= 0 && bars[0].bottom <= innerHeight)(
  [...document.querySelectorAll(".next")].map(bar => bar.getBoundingClientRect()))"""
HOSTILE = '</script><script>window.ran = 1</script><img src=x onerror="window.ran = 1">{{ 7 * 7 }}'


class Game:
    """A page with its model and the file it is in."""

    def __init__(self, scenario: Scenario, logs: Sequence[str], file: Path) -> None:
        rows = [(name, econ.read_log(FOLDER / "logs" / f"{name}.csv", scenario)) for name in logs]
        self.scenario, self.model = scenario, class_model(scenario, rows)
        self.html = class_page_html(self.model)
        self.file = file
        file.write_bytes(self.html)

    @property
    def data(self) -> Any:
        found = re.search(rb'<script type="application/json" id="data">(.*?)</script>', self.html)
        assert found is not None
        return json.loads(found[1])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("class")


@pytest.fixture(scope="module")
def demo(folder: Path) -> Game:
    scenario = econ.load(FOLDER / "point" / "a_land_twist_off.toml", ["draws.n=16"])
    return Game(scenario, LOGS, folder / "a.html")


@pytest.fixture(scope="module")
def changed(folder: Path) -> Game:
    """The facilitator's variation: a fish that hardly anybody believes in, and one run owed."""
    changes = ["draws.n=16", "fishing.workable=0.12", "limits.minimum_runs=1"]
    scenario = econ.load(FOLDER / "point" / "a_land_twist_off.toml", changes)
    return Game(scenario, LOGS[:1], folder / "changed.html")


@pytest.fixture(scope="module")
def attached(folder: Path) -> Game:
    """Another case, with two doubts and no log."""
    scenario = econ.load(FOLDER / "point" / "e_stuck_attached.toml", ["draws.n=16"])
    return Game(scenario, (), folder / "e.html")


@pytest.fixture(scope="module")
def tab() -> Iterator[Browser]:
    chromium()
    with browser() as opened:
        yield opened


# ---- what the tests do in the page ------------------------------------------------------------


def click(tab: Browser, name: str) -> None:
    tab.run(f"document.getElementById({name!r}).click()")


def typed(tab: Browser, name: str, text: str) -> None:
    """Type into a field, in place of what is there."""
    tab.run(
        f"(() => {{ const field = document.getElementById({json.dumps(name)});"
        f" field.value = {json.dumps(text)};"
        ' field.dispatchEvent(new Event("input", { bubbles: true })); })()'
    )


def chosen(tab: Browser, name: str, value: str) -> None:
    tab.run(
        f"(() => {{ const field = document.getElementById({name!r}); field.value = {value!r};"
        ' field.dispatchEvent(new Event("change", { bubbles: true })); })()'
    )


def there(tab: Browser, name: str) -> bool:
    return bool(tab.run(f"Boolean(document.getElementById({name!r}))"))


def text(tab: Browser, name: str) -> str:
    return str(tab.run(f"document.getElementById({name!r}).textContent"))


def shown_at(tab: Browser, where: str) -> dict[str, list[Any]]:
    """Rows of the scores at another address of the page that is open."""
    there = f"history.replaceState(null, '', {json.dumps(where)}); dispatchEvent("
    return {row[0]: row[1:] for row in tab.run(f"{there}new Event('hashchange')); {ROWS}")}


def shown(tab: Browser) -> dict[str, list[Any]]:
    """Rows of the scores by name: runs, end, total, regret, hindsight, luck, Brier twice."""
    return {row[0]: row[1:] for row in tab.run(ROWS)}


def decide(tab: Browser, team: int, do: Do, guess: str = "", why: str = "") -> None:
    click(tab, f"does-{team}-{do}")
    typed(tab, f"guess-{team}", guess)
    typed(tab, f"why-{team}", why)
    click(tab, f"decide-{team}")


def begin(tab: Browser, game: Game, names: Sequence[str], *, envelope: str, choices: str) -> None:
    """Open the page and begin with some teams."""
    tab.open(game.file)
    while tab.run("document.querySelectorAll('[id^=name-]').length") < len(names):
        click(tab, "add")
    while tab.run("document.querySelectorAll('input[id^=name-]').length") > len(names):
        click(tab, f"away-{len(names)}")
    for place, name in enumerate(names):
        typed(tab, f"name-{place}", name)
    kind, _, number = envelope.partition(":")
    chosen(tab, "envelope", kind)
    if number:
        typed(tab, "number", number)
    chosen(tab, "any", choices)
    click(tab, "begin")


def address(game: Game, player: Player, teams: Sequence[Sequence[tuple[Do, float | None]]]) -> str:
    """The address of a finished game."""
    state = {
        "id": game.data["id"],
        "game": {
            "phase": "play",
            "any": player.anything,
            "envelope": player.envelope.as_typed(),
            "kind": "number",
            "opened": max(map(len, teams)),
            "teams": [
                {
                    "name": f"T{n}",
                    "paper": "",
                    "changed": 0,
                    "out": False,
                    "seen": [],
                    "decisions": [{"does": do, "guess": guess, "why": ""} for do, guess in team],
                }
                for n, team in enumerate(teams)
            ],
        },
    }
    return "#" + quote(json.dumps(state))


def same(row: list[Any], score: Score) -> None:
    """A row of the page is the score of the player."""
    runs, _, total, regret, hindsight, luck, brier, stated = row
    scale = abs(score.total)
    assert runs == score.runs
    for seen, told in (
        (total, score.total),
        (regret, score.regret),
        (hindsight, score.hindsight),
        (luck, score.luck),
    ):
        assert seen == pytest.approx(told, abs=SAME * scale)
    for seen, told_score in ((brier, score.brier), (stated, score.stated)):
        assert (seen is None) == (told_score is None)
        assert seen is None or seen == pytest.approx(told_score, abs=1e-5)


# ---- two teams, one types well and one badly --------------------------------------------------


def test_two_teams_play_a_log_and_bad_typing_scores_nothing(tab: Browser, demo: Game) -> None:
    begin(tab, demo, ["Plan", "Hope"], envelope="log 0", choices="list")
    assert text(tab, "next") == "Morning 1. Still to decide: Plan, Hope."
    typed(tab, "paper-0", "three runs, no more")
    decide(tab, 0, 1, "47", "it pays well above what it needs")
    assert there(tab, "hidden-0")
    # what is mistyped is told beside the field, and nothing is decided by it
    for bad, words in (
        ("stopp", "no number"),
        ("0.5", "Type 50, or 0.5 %"),
        ("147", "more than 100"),
        ("-3", "no number"),
        ("4o", "no number"),
    ):
        click(tab, "does-1-1")
        typed(tab, "guess-1", bad)
        click(tab, "decide-1")
        assert words in text(tab, "guess-1-fault")
        assert tab.run("document.activeElement.id") == "guess-1"
        assert not there(tab, "hidden-1")
    assert tab.run("document.getElementById('open').disabled")
    decide(tab, 1, 1, " 60,5 % ")
    click(tab, "open")
    told = tab.run("document.getElementById('history').textContent")
    assert told.count("grapple took hold twice") == 1  # once for teams that stand alike
    assert "Plan: guessed 47 %, the program 47 %. \u201cit pays" in told
    assert "Hope: guessed 60.5 %" in told
    # a blank morning is not taken
    decide(tab, 0, 2, "30")
    click(tab, "decide-1")
    assert "Choose one" in text(tab, "does-1-fault")
    assert tab.run("document.getElementById('open').disabled")
    click(tab, "open")
    assert text(tab, "morning") == "Morning 2"
    decide(tab, 1, 2)
    click(tab, "open")
    decide(tab, 0, 3, "16")
    decide(tab, 1, 3, "90")
    click(tab, "open")
    decide(tab, 0, STOP)
    decide(tab, 1, 4, "50")
    click(tab, "open")
    rows = shown(tab)
    player = Player(demo.model, Envelope(log=0), anything=False)
    same(rows["Plan"], player.score([(1, 0.47), (2, 0.3), (3, 0.16), (STOP, None)]))
    same(rows["Hope"], player.score([(1, 0.605), (2, None), (3, 0.9), (4, 0.5)]))
    # the point of the exercise, and the figures of the notebook: the good decision is not rewarded
    assert rows["Plan"][3] == 0
    assert rows["Plan"][4] > 300_000
    assert rows["Hope"][3] > 100_000
    assert rows["Hope"][4] == 0
    assert "three runs, no more" in text(tab, "papers")
    assert "first regret aloud" in text(tab, "next")
    assert tab.said == []


def test_a_log_comes_to_what_the_lessons_say(tab: Browser, demo: Game) -> None:
    learned = econ.lessons(
        demo.scenario.model_copy(update={"reading": []}),
        econ.read_log(FOLDER / "logs" / "a_class_job.csv", demo.scenario),
    )
    player = Player(demo.model, Envelope(log=0), anything=True)
    team: list[tuple[Do, float | None]] = [(run, None) for run in (1, 2, 3, 4)]
    tab.open(demo.file, address(demo, player, [team]))
    _, _, total, regret, _, luck, _, _ = shown(tab)["T0"]
    assert total == pytest.approx(learned.total_cost, abs=1)
    assert regret == pytest.approx(learned.regret, abs=1)
    assert luck == pytest.approx(learned.luck, abs=1)


# ---- every way through ------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["demo", "changed", "attached"])
def test_the_scores_of_every_way_are_the_programs(
    name: str, tab: Browser, request: pytest.FixtureRequest
) -> None:
    game: Game = request.getfixturevalue(name)
    rng = random.Random(19)
    told = tuple((run, word) for run, word in enumerate(["nothing", "part", "recovered"], start=1))
    envelopes = [Envelope(log=n) for n in range(len(game.model.logs))]
    envelopes += [Envelope(number=n) for n in (1, 77, 500)]
    envelopes += [Envelope(number=4, own=told)]
    seen = 0
    tab.open(game.file)
    for envelope in envelopes:
        for anything in (True, False):
            player = Player(game.model, envelope, anything=anything)
            ways = player.ways()
            for first in range(0, min(len(ways), 16), 8):
                teams = [
                    [(do, rng.choice([None, 0.0, 0.25, 1.0]) if do != STOP else None) for do in way]
                    for way in ways[first : first + 8]
                ]
                rows = shown_at(tab, address(game, player, teams))
                for n, team in enumerate(teams):
                    same(rows[f"T{n}"], player.score(team))
                    seen += 1
                least = min(row[4] for row in rows.values())
                assert least >= -SAME * abs(rows["T0"][2])
    assert seen > 30
    assert tab.said == []


def test_a_changed_case_owes_its_run_and_then_stops(tab: Browser, changed: Game) -> None:
    begin(tab, changed, ["One"], envelope="log 0", choices="list")
    assert not there(tab, "does-0-stop")
    decide(tab, 0, 1, "3")
    click(tab, "open")
    decide(tab, 0, STOP)
    click(tab, "open")
    player = Player(changed.model, Envelope(log=0), anything=False)
    same(shown(tab)["One"], player.score([(1, 0.03), (STOP, None)]))
    assert shown(tab)["The program, every morning"][3] == 0


def test_an_own_envelope_is_what_the_facilitator_sets(tab: Browser, demo: Game) -> None:
    tab.open(demo.file)
    assert not there(tab, "number")  # a log tells every run of the list
    chosen(tab, "envelope", "own")
    chosen(tab, "own-1", "part")
    chosen(tab, "own-3", "recovered")
    typed(tab, "number", "9")
    chosen(tab, "any", "any")
    click(tab, "begin")
    decide(tab, 0, 1)
    decide(tab, 1, 3)
    click(tab, "open")
    came = "[...document.querySelectorAll('.came')].map(node => node.dataset.outcome)"
    assert tab.run(came) == ["part", "recovered"]
    decide(tab, 0, STOP)
    click(tab, "open")
    player = Player(
        demo.model, Envelope(number=9, own=((1, "part"), (3, "recovered"))), anything=True
    )
    same(shown(tab)["Team 1"], player.score([(1, None), (STOP, None)]))
    same(shown(tab)["Team 2"], player.score([(3, None)]))


# ---- going back, leaving out, coming again ----------------------------------------------------


def test_going_back_counts_what_is_changed_after_opening(tab: Browser, demo: Game) -> None:
    begin(tab, demo, ["One", "Two"], envelope="number:3", choices="any")
    decide(tab, 0, 1, "50")
    click(tab, "change-0")
    assert tab.run("document.getElementById('guess-0').value") == "50"
    decide(tab, 0, 1, "40")  # before the envelope is opened: free
    decide(tab, 1, STOP)
    click(tab, "open")
    click(tab, "back")
    assert text(tab, "morning") == "Morning 1"
    click(tab, "decide-0")  # as it was
    decide(tab, 1, 1, "45")  # otherwise, with the envelope read
    click(tab, "open")
    for team in (0, 1):
        if there(tab, f"does-{team}-stop"):
            decide(tab, team, STOP)
    if there(tab, "open"):
        click(tab, "open")
    heads = tab.run("[...document.querySelectorAll('#scores tbody th')].map(h => h.textContent)")
    assert heads[:2] == ["One", "Two (changed 1 after opening)"]


def test_a_team_that_does_not_decide_can_be_left_out(tab: Browser, demo: Game) -> None:
    begin(tab, demo, ["One", "Away"], envelope="log 1", choices="list")
    decide(tab, 0, STOP)
    click(tab, "out-1")
    click(tab, "open")
    rows = shown(tab)
    assert rows["Away"] == [None] * 8
    same(rows["One"], Player(demo.model, Envelope(log=1), anything=False).score([(STOP, None)]))


def test_a_game_lives_in_its_address(tab: Browser, demo: Game) -> None:
    begin(tab, demo, ["One", "Two"], envelope="number:12", choices="any")
    decide(tab, 0, 3, "35")
    typed(tab, "guess-1", "77")
    where = tab.run("location.hash")
    tab.open(demo.file, where)
    assert there(tab, "hidden-0")
    assert tab.run("document.getElementById('guess-1').value") == "77"
    for broken in ("#%7B", "#" + quote('{"id":"00000000","game":{}}'), where[:-40]):
        tab.open(demo.file, broken)
        assert there(tab, "begin")
        assert "a new game" in text(tab, "said")
    assert tab.said == []


def test_teams_of_two_laptops_come_together(tab: Browser, demo: Game) -> None:
    begin(tab, demo, ["Far"], envelope="number:12", choices="any")
    decide(tab, 0, STOP)
    click(tab, "open")
    line = tab.run("document.getElementById('line-0').value")
    begin(tab, demo, ["Near"], envelope="number:12", choices="any")
    decide(tab, 0, 1, "50")
    click(tab, "open")
    if there(tab, "does-0-stop"):
        decide(tab, 0, STOP)
        click(tab, "open")
    for bad, words in (
        ("", "no result line"),
        ("stopp", "no result line"),
        (line[:-9], "cut or changed"),
        (line.replace(demo.data["id"], "00000000"), "another case"),
    ):
        typed(tab, "paste", bad)
        click(tab, "take")
        assert words in text(tab, "paste-fault")
    typed(tab, "paste", line)
    click(tab, "take")
    rows = shown(tab)
    player = Player(demo.model, Envelope(number=12), anything=True)
    same(rows["Far"], player.score([(STOP, None)]))
    assert "Near" in rows
    begin(tab, demo, ["Near"], envelope="number:13", choices="any")
    decide(tab, 0, STOP)
    click(tab, "open")
    typed(tab, "paste", line)
    click(tab, "take")
    assert "another envelope" in text(tab, "paste-fault")


def test_names_and_numbers_that_cannot_be_are_told(tab: Browser, demo: Game) -> None:
    begin(tab, demo, ["", "Two", "two"], envelope="number:501", choices="any")
    assert "Give the team a name" in text(tab, "name-0-fault")
    assert "Another team has this name" in text(tab, "name-2-fault")
    assert "from 1 to 500" in text(tab, "number-fault")
    assert tab.run("document.activeElement.id") == "name-0"


# ---- keys, widths, print, what it refuses -----------------------------------------------------


def test_it_is_played_with_the_keyboard_alone(tab: Browser, demo: Game) -> None:
    tab.open(demo.file)
    tab.run("document.getElementById('begin').focus()")

    def key(name: str, code: int, letter: str = "") -> None:
        for kind in ("keyDown", "keyUp"):
            more = {"text": letter} if letter and kind == "keyDown" else {}
            tab.call(
                "Input.dispatchKeyEvent",
                type=kind,
                key=name,
                code=name,
                windowsVirtualKeyCode=code,
                **more,
            )

    def focused() -> str:
        return str(tab.run("document.activeElement.id"))

    key("Enter", 13, "\r")
    assert focused() == "morning"
    for team in (0, 1):
        while not focused().startswith(f"does-{team}"):
            key("Tab", 9)
        key(" ", 32, " ")
        key("Tab", 9)
        assert focused() == f"guess-{team}"
        for digit in "45":
            key(digit, ord(digit), digit)
        key("Enter", 13, "\r")
        assert there(tab, f"hidden-{team}")
    assert focused() == "open"
    key("Enter", 13, "\r")
    assert focused() == "opened-1"


@pytest.mark.parametrize("name", ["demo", "changed", "attached"])
def test_it_fits_a_telephone(name: str, tab: Browser, request: pytest.FixtureRequest) -> None:
    game: Game = request.getfixturevalue(name)
    tab.width(360)
    try:
        begin(
            tab,
            game,
            ["A team with a name as long as a name can b", "Two"],
            envelope="number:1",
            choices="any",
        )
        wide = "document.documentElement.scrollWidth"
        assert tab.run(wide) <= 360
        for _ in range(12):
            for team in (0, 1):
                if there(tab, f"decide-{team}"):
                    first = tab.run(f"document.querySelector('input[name=does-{team}]').value")
                    decide(tab, team, first, "33")
            assert tab.run(wide) <= 360
            assert tab.run(IN_SIGHT)
            if not there(tab, "open"):
                break
            click(tab, "open")
        assert there(tab, "scores")
        tab.run("document.querySelectorAll('details').forEach(each => { each.open = true; })")
        assert tab.run(wide) <= 360
    finally:
        tab.width(1000)


def test_print_leaves_the_controls_out(tab: Browser, demo: Game) -> None:
    begin(tab, demo, ["One"], envelope="log 0", choices="list")
    decide(tab, 0, STOP)
    click(tab, "open")
    tab.call("Emulation.setEmulatedMedia", media="print")
    try:
        seen = (
            "[...document.querySelectorAll('button')].filter(b => b.offsetParent !== null).length"
        )
        assert tab.run(seen) == 0
        assert tab.run("document.getElementById('scores').offsetHeight") > 0
        tab.run("window.print = () => {}; document.getElementById('sheet').open = true")
        click(tab, "print-sheet")
        heights = "['scores', 'sheet', 'job'].map(id => document.getElementById(id).offsetHeight)"
        assert [each > 0 for each in tab.run(heights)] == [False, True, False]
        printed = tab.call("Page.printToPDF")["data"]
        assert base64.b64decode(printed).startswith(b"%PDF-")
    finally:
        tab.call("Emulation.setEmulatedMedia", media="")


def test_it_asks_for_nothing_and_runs_nothing_else(tab: Browser, folder: Path) -> None:
    name = json.dumps(HOSTILE)
    changes = ["draws.n=16", f"job.well={name}", f"run.1.name={name}", "fish.piece.1.name=" + name]
    scenario = econ.load(FOLDER / "point" / "c_bit_cones.toml", changes[:3])
    game = Game(scenario, (), folder / "hostile.html")
    before = len(tab.requests)
    begin(tab, game, [HOSTILE[:40], "Two"], envelope="number:2", choices="any")
    decide(tab, 0, STOP, why=HOSTILE)
    decide(tab, 1, STOP)
    click(tab, "open")
    assert tab.run("window.ran") is None
    assert HOSTILE[:40] in tab.run("document.getElementById('scores').textContent")
    assert tab.run("document.querySelectorAll('#game img, #game script').length") == 0
    assert all(each.startswith(("file:", "about:")) for each in tab.requests[before:])
    assert tab.said == []


def test_its_policy_names_its_script_and_style(demo: Game) -> None:
    page = demo.html.decode()
    policy = re.search(r'http-equiv="Content-Security-Policy" content="(.*?)"', page)
    assert policy is not None
    told = html.unescape(policy[1])
    assert told.startswith("default-src 'none'; ")
    for tag in ("script", "style"):
        inside = re.findall(rf"<{tag}>(.*?)</{tag}>", page, re.S)
        assert len(inside) == 1
        digest = base64.b64encode(hashlib.sha256(inside[0].encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in told
    assert "innerHTML" not in page
    assert len(demo.html) < LARGEST


def test_the_sheet_has_both_tables_of_hindsight(demo: Game) -> None:
    page = demo.html.decode()
    tables = re.findall(r'<table class="hindsight">(.*?)</table>', page, re.S)
    assert len(tables) == 2
    for name, table in zip(LOGS, tables, strict=True):
        totals = [float(each) for each in re.findall(r'<td data-value="(.*?)">', table)]
        log = econ.read_log(FOLDER / "logs" / f"{name}.csv", demo.scenario)
        assert len(totals) == 1 + len(log)
        for made, total in enumerate(totals):
            spent = sum(row.cost or 0.0 for row in log[:made])
            there = standing(demo.scenario, log[:made], n=16)
            assert total == pytest.approx(spent + there.fallback, abs=1)
    assert "Screw in" in page
    # independent: the worked table of scenario A
    assert "To stop now costs 713,532:" in page
    assert "122,325 of work is left" in page


def test_without_its_script_it_says_so(demo: Game) -> None:
    assert b"<noscript>" in demo.html
    assert "Begin" in dumped(demo.file)


def test_python_makes_the_same_page(attached: Game) -> None:
    scenario = econ.load(FOLDER / "point" / "e_stuck_attached.toml", ["draws.n=16"])
    assert econ.class_page(scenario) == attached.html
    with pytest.raises(TypeError, match="takes a Scenario"):
        econ.class_page("a.toml")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="26 logs at the most"):
        econ.class_page(scenario, {str(n): () for n in range(27)})
    with pytest.raises(ValueError, match="a log with a row"):
        econ.class_page(scenario, {"empty": ()})


def test_depths_are_in_the_units_of_the_file(folder: Path) -> None:
    raw = {**metric(read(SCENARIO_A)), "units": "metric"}
    raw["run"] = raw["run"][:1]
    made = Game(checked(raw, n=16), (), folder / "metric.html")
    assert f"The fish top is at {11_180 * 0.3048:,.0f} m," in made.html.decode()
    tops = {state[5] for state in made.data["states"]}
    assert tops == {round(11_180 * 0.3048, 1), round(11_240 * 0.3048, 1)}


def test_the_model_is_not_changed_by_the_page(attached: Game) -> None:
    again: ClassModel = attached.model
    assert class_page_html(again) == attached.html
