"""The guide says what the code does: keys, words, names of the output, defaults, links."""

from __future__ import annotations

import csv
import io
import json
import re
import shlex
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any, get_args

import click
import pytest
from click.testing import CliRunner
from full_text import text
from report_writer import Did, write_days
from schema_table import key_table
from terminal_blocks import BLOCK, PAGES, rewritten

import econ
from econ.cli import main
from econ.decision.sensitivity import sensitivity
from econ.records import odds_fragment
from econ.records.daily_reports import speeds_fragment
from econ.reports.supplement import supplement, table_csv
from econ.reports.tables import document
from econ.reports.tables.figures import TABLES as FIGURES
from econ.reports.tables.figures import TABLES_OF_SENSITIVITY, as_csv, rows
from econ.scenario import Scenario
from econ.scenario.program import OUTCOMES, RunKind

ROOT = Path(__file__).parents[2]
GUIDE = ROOT / "notebooks" / "guide"
DEMOS = sorted((ROOT / "scenarios").glob("*.toml"))
A, D = DEMOS[0], DEMOS[3]
LOGS = {"a_two_runs": A, "d_three_runs": D}
RECORDS = ROOT / "scenarios" / "records" / "invented_jobs.csv"
QUICK = "draws.n=16"

Row = dict[str, str]


def page(name: str) -> str:
    return (GUIDE / f"{name}.md").read_text(encoding="utf-8")


def tables(markdown: str) -> dict[str, list[Row]]:
    """Rows of the tables by the heading they stand under; a cell without its backticks."""
    found: dict[str, list[Row]] = {}
    for part in re.split(r"^#+ ", markdown, flags=re.M)[1:]:
        heading, _, body = part.partition("\n")
        lines = [line for line in body.splitlines() if line.startswith("|")]
        if len(lines) < 3:
            continue
        split = [re.split(r"(?<!\\)\|", line)[1:-1] for line in lines]
        cells = [[cell.strip() for cell in row] for row in split]
        head = cells[0]
        assert all(len(row) == len(head) for row in cells), heading
        rows = [dict(zip(head, row, strict=True)) for row in cells[2:]]
        found[heading] = [{name: cell.strip("`") for name, cell in row.items()} for row in rows]
    return found


GLOSSARY = tables(page("glossary"))
START = tables(page("start"))


# Keys of a scenario, and the words and defaults that it knows ---------------------------


def test_the_key_table_is_the_schema() -> None:
    stored = page("keys")
    missing = set(key_table().splitlines()) - set(stored.splitlines())
    assert stored == key_table(), f"python tests/notebooks/schema_table.py > keys.md: {missing}"


def words_of(node: Any, key: str = "") -> set[tuple[str, str]]:
    """Every word that a schema allows, with the key it stands at."""
    if isinstance(node, list):
        return set().union(*(words_of(each, key) for each in node))
    if not isinstance(node, dict):
        return set()
    found = {(key, word) for word in node.get("enum", [])}
    for name, each in node.items():
        inner = key if name in ("items", "anyOf", "enum") else name
        found |= words_of(each, inner)
    return found


def test_every_word_of_a_file_is_explained() -> None:
    kinds = {("kind of a run", word) for word in get_args(RunKind)}
    known = words_of(Scenario.model_json_schema())
    lumps = {word for key, word in known if key == "kind"} - set(get_args(RunKind))
    lumps |= {"other", "drill_past"}  # words of both
    expected = {pair for pair in known if pair[0] not in ("kind", "kinds")} | kinds
    expected |= {("kind of a lump", word) for word in lumps}
    expected |= {("odds", word) for word in OUTCOMES}
    explained = {(row["key"].replace("` of ", " of "), row["word"]) for row in words()}
    assert explained == expected
    assert len(explained) == len(words())


def words() -> list[Row]:
    return GLOSSARY["Words of a file"]


def defaults() -> dict[str, str]:
    """Every default that is not zero, none, false or empty, by its key in a file."""
    schema = Scenario.model_json_schema()
    sections = {
        **{"Afe": "afe", "DrawSettings": "draws", "Fish": "fish", "Fishing": "fishing"},
        **{"Limits": "limits", "Lump": "fallback", "Recovery": "recovery", "Run": "run"},
        **{"Sidetrack": "fallback", "Whipstock": "whipstock"},
    }
    found: dict[str, str] = {}
    for part, body in schema["$defs"].items():
        for key, given in body["properties"].items():
            value = given.get("default")
            if not value or isinstance(value, dict | list):
                continue
            found[f"{sections[part]}.{key}"] = (
                str(value) if isinstance(value, str) else f"{value:g}"
            )
    return found


def test_the_origin_of_every_default_is_told() -> None:
    told = START["How each default was set"]
    assert {row["key"]: row["default"] for row in told} == defaults()
    assert len(told) == len(defaults())
    assert all(row["how it was set"] for row in told)


# Names in the output --------------------------------------------------------------------


def paths(node: Any, above: str = "") -> set[str]:
    """Key paths of a document: a.b inside, [] for the items of a list."""
    found: set[str] = set()
    if isinstance(node, dict):
        for key, value in node.items():
            here = f"{above}.{key}" if above else key
            # below these are names that a file chose
            found |= {here} if key in ("doubts", "doubt_errors") else {here} | paths(value, here)
    elif isinstance(node, list):
        for value in node:
            found |= paths(value, f"{above}[]")
    return found


@cache
def answer_paths(folder: Path) -> frozenset[str]:
    found: set[str] = set()
    for path in DEMOS:
        found |= paths(document(econ.answer(econ.load(path, [QUICK]))))
    close = econ.answer(econ.load(A, [QUICK, "fishing.workable=0.19"]))
    assert close.close_call
    found |= paths(document(close))
    for log, path in LOGS.items():
        scenario = econ.load(path, [QUICK])
        made = econ.read_log(ROOT / "scenarios" / "logs" / f"{log}.csv", scenario)
        found |= paths(document(econ.answer(scenario, made)))
    odds = folder / "odds.toml"
    odds.write_text(odds_fragment(econ.odds(econ.read_records(RECORDS))), encoding="utf-8")
    speeds = folder / "speeds.toml"
    write_days(folder / "in", [Did(3, "trip", "RIH", 900, bit=(0, 900))])
    speeds.write_text(speeds_fragment(econ.daily(folder / "in")), encoding="utf-8")
    named = [f"odds_from='{odds.as_posix()}'", f"speeds_from='{speeds.as_posix()}'"]
    blended = econ.load(A, [QUICK, *named])
    return frozenset(found | paths(document(econ.answer(blended))))


def test_every_key_of_an_answer_is_explained(tmp_path: Path) -> None:
    rows = GLOSSARY["Keys of `econ answer --json`"]
    explained = [row["key"] for row in rows]
    assert set(explained) ^ answer_paths(tmp_path) == set()
    assert len(explained) == len(set(explained))
    assert all(row["unit"] and row["meaning"] for row in rows)


def names(node: Any) -> set[str]:
    """Last names of all keys of a document, without those that a file chose."""
    chosen = ("not_known", "not_carried")
    if isinstance(node, list):
        return set().union(*(names(each) for each in node))
    if not isinstance(node, dict):
        return set()
    below = (names(value) for key, value in node.items() if key not in chosen)
    return set(node).union(*below)


def printed(*command: str) -> str:
    result = CliRunner().invoke(main, [*command])
    assert result.exit_code == 0, result.output
    return str(result.stdout)


def columns(table: str) -> set[str]:
    return set(next(csv.reader(io.StringIO(table))))


def sensitivity_names(folder: Path) -> set[str]:
    few = ("--set", QUICK, "--map", "workable", "fallback")
    return names(json.loads(printed("sensitivity", str(DEMOS[2]), "--json", *few)))


def whatif_names(folder: Path) -> set[str]:
    change = ("--set", "rates.rig=40000")
    return names(json.loads(printed("whatif", str(quick_demo(folder)), "--json", *change)))


def quick_demo(folder: Path) -> Path:
    """A demo with few draws, as a file."""
    text_of = A.read_text(encoding="utf-8")
    copy = folder / "quick.toml"
    copy.write_text(re.sub(r"(?m)^n = \d+", "n = 16", text_of), encoding="utf-8")
    return copy


def methods_names(folder: Path) -> set[str]:
    return set().union(
        *(names(json.loads(printed("methods", str(path), "--json"))) for path in DEMOS)
    )


def order_names(folder: Path) -> set[str]:
    asked = printed("answer", str(DEMOS[2]), "--json", "--order", "--set", QUICK)
    return names(json.loads(asked)["order"])


def plan_names(folder: Path) -> set[str]:
    asked = json.loads(printed("plan", str(A), "--json", "--set", QUICK))
    chosen = {node["id"]: node["belief"] for node in asked["plan"]["nodes"]}
    return names(asked) - {doubt for belief in chosen.values() for doubt in belief}


def lessons_names(folder: Path) -> set[str]:
    log = str(ROOT / "scenarios" / "logs" / "a_two_runs.csv")
    return names(json.loads(printed("lessons", str(A), "--log", log, "--json", "--set", QUICK)))


def odds_names(folder: Path) -> set[str]:
    return names(json.loads(printed("odds", str(RECORDS), "--json", "--for", str(A))))


def daily_names(folder: Path) -> set[str]:
    stuck = Did(3, "drill", "String got stuck at 900 m", 900)
    lengthless = Did(2, "drill", "Drilled", -5.0)
    write_days(folder / "in", [Did(3, "trip", "RIH", 900, bit=(0, 900)), stuck, lengthless])
    (folder / "in" / "odd.xml").write_text("<odd/>", encoding="utf-8")
    return names(json.loads(printed("daily", str(folder / "in"), "--json")))


def sweep_names(folder: Path) -> set[str]:
    grid, out = folder / "grid.csv", folder / "out.csv"
    grid.write_text("rates.rig\n40000\n", encoding="utf-8")
    printed("sweep", str(A), str(grid), "--out", str(out), "--draws", "16", "--jobs", "1")
    return columns(out.read_text(encoding="utf-8")) - {"rates.rig"}


def figure_names(folder: Path) -> set[str]:
    # the tables that go into the files, without the pictures beside them
    found = econ.answer(econ.load(A, [QUICK]))
    changing = sensitivity(found.scenario, learning=False)
    each = (rows(found, name, changing) for name in (*FIGURES, *TABLES_OF_SENSITIVITY))
    return set().union(*(columns(as_csv(table)) for table in each))


def afe_names(folder: Path) -> set[str]:
    found = supplement(econ.answer(econ.load(A, [QUICK])))
    named = ("costs", "stages", "options", "partners", "limits", "lines")
    return set().union(*(columns(table_csv(found, table)) for table in named))


OTHERS = {
    "`econ sensitivity --json`": sensitivity_names,
    "`econ whatif --json`": whatif_names,
    "`econ methods --json`": methods_names,
    "`order` of `econ answer --order --json`": order_names,
    "`econ plan --json`": plan_names,
    "`econ lessons --json`": lessons_names,
    "`econ odds --json`, and its tables": odds_names,
    "`econ daily --json`, and its tables": daily_names,
    "Columns of `econ sweep`": sweep_names,
    "Columns of the figures": figure_names,
    "Columns of `econ afe` as CSV": afe_names,
}


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> dict[str, set[str]]:
    """Names that each of the other outputs writes."""
    return {what: make(tmp_path_factory.mktemp("out")) for what, make in OTHERS.items()}


@pytest.mark.parametrize("what", OTHERS)
def test_every_name_of_another_output_is_explained(what: str, written: dict[str, set[str]]) -> None:
    shared = {row["key"] for row in GLOSSARY["In more than one of them"]}
    own = {row["key"] for row in GLOSSARY[what]}
    assert written[what] - shared - own == set()
    assert own - written[what] == set()
    assert own & shared == set()


def test_what_is_shared_is_in_more_than_one(written: dict[str, set[str]]) -> None:
    for row in GLOSSARY["In more than one of them"]:
        assert sum(row["key"] in each for each in written.values()) > 1, row["key"]


def test_the_glossary_has_the_words_of_tools_and_of_the_demos() -> None:
    words = [row["word"] for row in GLOSSARY["The trade"]]
    needed = (
        *("bumper sub", "grapple", "lost in hole", "spread, spread rate", "overpull", "twist-off"),
        *("heavy-weight pipe", "stabiliser", "bent joint", "caliper", "impression block", "jars"),
    )
    assert set(needed) <= set(words)
    assert words == sorted(words, key=str.lower)
    # the trade notes, and what `econ methods` says of it: it knocks the catch loose
    told = {row["word"]: row["meaning"] for row in GLOSSARY["The trade"]}
    assert "knocks the catch loose" in told["bumper sub"]
    assert "down blow" in told["bumper sub"]


def test_every_heading_of_the_text_is_there() -> None:
    risky = [QUICK, "limits.authority=4200000", "limits.risk_tolerance=8000000"]
    shown = " ".join(text(econ.answer(econ.load(D, risky))).split())
    for row in GLOSSARY["Headings in the text of `econ answer`"]:
        for heading in row["heading"].split(", "):
            assert heading in shown, heading


# Links ----------------------------------------------------------------------------------


def anchors(markdown: str) -> set[str]:
    """Anchors of the headings as a reader of Markdown on the web makes them."""
    found = set()
    for heading in re.findall(r"^#+ (.+)$", markdown, re.M):
        plain = re.sub(r"[^\w\- ]", "", heading.lower())
        found.add(plain.replace(" ", "-"))
    return found


def pages() -> list[Path]:
    folders = (ROOT, ROOT / "notebooks", GUIDE)
    found = [path for folder in folders for path in sorted(folder.glob("*.md"))]
    return found + sorted((ROOT / "notebooks").glob("*.ipynb"))


def prose(path: Path) -> str:
    if path.suffix == ".md":
        return path.read_text(encoding="utf-8")
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return "\n".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == "markdown")


@pytest.mark.parametrize("path", pages(), ids=lambda path: path.name)
def test_every_link_leads_somewhere(path: Path) -> None:
    for target in re.findall(r"\]\(([^)\s]+)\)", prose(path)):
        if re.match(r"[a-z]+:", target):
            continue
        name, _, anchor = target.partition("#")
        aim = path if not name else (path.parent / name).resolve()
        assert aim.exists(), target
        if anchor:
            assert anchor in anchors(prose(aim)), target


def test_every_page_of_the_guide_is_within_reach() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "notebooks/guide/start.md" in readme
    for path in GUIDE.glob("*.md"):
        assert path.name == "start.md" or f"]({path.name})" in page("start"), path.name


# Commands -------------------------------------------------------------------------------

WRITTEN = [ROOT / "README.md", ROOT / "notebooks" / "08_facilitator.md", *GUIDE.glob("*.md")]


def fenced(markdown: str, language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", markdown, re.M | re.S)


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_what_a_page_shows_of_the_terminal_is_what_is_printed(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT)
    assert prose(path) == rewritten(prose(path)), "python tests/notebooks/terminal_blocks.py"
    assert prose(path).count("```console") == len(BLOCK.findall(prose(path)))


def test_the_readme_shows_a_first_screen() -> None:
    assert BLOCK.findall(prose(ROOT / "README.md")) == ["answer scenarios/a_land_twist_off.toml"]


def commands(markdown: str) -> Iterator[list[str]]:
    """Commands of the program that a page names, in code of a line or of a block, with their
    options."""
    blocks = [block.replace("\\\n", " ") for block in fenced(markdown, "sh")]
    lines = [line for block in blocks for line in re.split(r"\n|&&", block)]
    lines += re.findall(r"`([^`\n]+)`", re.sub(r"^```.*?^```$", "", markdown, flags=re.M | re.S))
    for line in lines:
        words = shlex.split(line) if "econ" in line else []
        if words and re.fullmatch(r"(.*[/\\])?econ", words[0]):
            yield words[1:]


@pytest.mark.parametrize("path", WRITTEN, ids=lambda path: path.name)
def test_every_command_of_a_page_is_one(path: Path) -> None:
    for words in commands(prose(path)):
        context = click.Context(main)
        command: click.Command | None = main
        while isinstance(command, click.Group) and words and not words[0].startswith("-"):
            command = command.get_command(context, words.pop(0))
        assert command is not None, words
        known = {name for each in command.get_params(context) for name in each.opts}
        asked = {word.split("=")[0] for word in words if word.startswith("--")}
        assert asked - known == set(), (command.name, words)


def test_the_reader_of_commands_sees_all_sorts() -> None:
    written = (
        "Say `econ log undo a.toml b.csv`.\n\n```sh\n.venv/bin/econ check x \\\n  --schema\n```\n"
    )
    assert list(commands(written)) == [
        ["check", "x", "--schema"],
        ["log", "undo", "a.toml", "b.csv"],
    ]


def test_every_command_is_on_the_page_of_commands() -> None:
    named = {words[0] for words in commands(page("commands")) if words}
    assert set(main.list_commands(click.Context(main))) <= named


def test_the_ten_questions_of_the_starter_are_those_of_the_guide() -> None:
    starter = (ROOT / "econ" / "scenario" / "starter.toml").read_text(encoding="utf-8")
    asked = re.findall(r"^# ([ \d]\d\. .*?\?) {2,}", starter, re.M)
    assert len(asked) == 10
    for question in asked:
        said = " ".join(question.split())
        assert any(said in row for row in page("start").splitlines()), said
