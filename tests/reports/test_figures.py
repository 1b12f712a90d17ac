"""The figures: their tables, that nothing in them overlaps, and that no name does harm.

Origins of the expected numbers: a table of a figure must show the numbers of `econ answer
--json`, which have their own tests. Contrast and luminance are WCAG 2.1 (published); which
contrasts are asked for here is the choice of this project. Geometry and safety are properties.
"""

from __future__ import annotations

import csv
import io
import json
import random
import re
import struct
from collections.abc import Iterator
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import matplotlib
import pytest
from click.testing import CliRunner, Result
from figure_jobs import ARABIC, CHINESE, HOSTILE, PILED, answered, raws, turned, turned_job
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.text import Text
from raw_jobs import DEMO_A, Table, scenario

import econ
from econ.cli import main
from econ.decision.sensitivity import sensitivity
from econ.reports import theme
from econ.reports.figures import FIGURES, NEED_SENSITIVITY, alt_text, figure, png, svg
from econ.reports.figures.lettering import BOX, DOTS, Weight, cut, fits, folded, shown, width
from econ.reports.figures.output import drawing
from econ.reports.figures.sensitivity import readable, shade
from econ.reports.tables import document
from econ.reports.tables.figures import as_csv, rows

SIZES = ("memo", "page")
OF_ANSWER = [name for name in FIGURES if name not in NEED_SENSITIVITY]
LOG = DEMO_A.parent / "logs" / "a_two_runs.csv"


def drawn(job: str, name: str, size: str = "memo") -> Figure:
    """A figure of one of the jobs."""
    return figure(answered(job), name, size=size)  # type: ignore[arg-type]


# ---- what is drawn where ----------------------------------------------------------------------


def words_of(fig: Figure) -> list[Text]:
    """Every text that is seen."""
    return [each for each in fig.findobj(Text) if each.get_visible() and each.get_text().strip()]


def drawn_from_names(fig: Figure) -> list[Text]:
    """Every text but the numbers of an axis: it may hold a name, and is never mathematics."""
    return [each for each in words_of(fig) if not re.fullmatch(r"[-0-9.,e+]+", each.get_text())]


def overlaps(fig: Figure) -> list[tuple[str, str]]:
    """Pairs of texts that overlap, and texts that leave the figure, by their boxes in pixels."""
    canvas = FigureCanvasAgg(fig)
    with drawing():
        fig.draw_without_rendering()
        renderer = canvas.get_renderer()
        boxes = [(each.get_text(), each.get_window_extent(renderer)) for each in words_of(fig)]
    wide, high = canvas.get_width_height()
    found = [
        (words, "the edge")
        for words, box in boxes
        if box.x0 < 0 or box.y0 < 0 or box.x1 > wide or box.y1 > high
    ]
    for (one, a), (other, b) in combinations(boxes, 2):
        across = min(a.x1, b.x1) - max(a.x0, b.x0)
        up = min(a.y1, b.y1) - max(a.y0, b.y0)
        if across > 0.5 and up > 0.5:  # of a pixel, a hundredth of an inch
            found.append((one, other))
    return found


@pytest.mark.parametrize(
    ("job", "size"),
    [
        *((job, "memo") for job in raws()),
        *((job, "page") for job in ("thirty runs", "long", "lump")),
    ],
)
def test_no_text_overlaps_or_leaves_a_figure(job: str, size: str) -> None:
    for name in OF_ANSWER:
        fig = drawn(job, name, size)
        assert overlaps(fig) == [], name
        assert not any(words.get_parse_math() for words in drawn_from_names(fig))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", NEED_SENSITIVITY)
def test_no_text_overlaps_in_swings_and_map(name: str, size: str) -> None:
    answer, found = turned()
    assert overlaps(figure(answer, name, found, size=size)) == []  # type: ignore[arg-type]


def test_the_search_for_overlaps_finds_them() -> None:
    # the checks above are only as good as this
    fig = Figure(figsize=(4, 2))
    fig.text(0.1, 0.5, "one text")
    fig.text(0.12, 0.5, "another")
    fig.text(0.9, 0.2, "past the right edge")
    assert overlaps(fig) == [("past the right edge", "the edge"), ("one text", "another")]


def test_sizes_of_the_two_formats() -> None:
    for size, wide in (("memo", 170.0), ("page", 257.0)):
        inches = drawn("lump", "curve", size).get_size_inches() * 25.4
        assert inches[0] == pytest.approx(wide)
        assert inches[1] <= 170.0 + 1e-9


def test_a_memo_of_many_lines_still_fits_a_sheet() -> None:
    for name in OF_ANSWER:
        assert drawn("thirty runs", name).get_size_inches()[1] * 25.4 < 240.0


# ---- numbers ----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def demo() -> econ.Answer:
    return econ.answer(econ.load(DEMO_A, ("draws.n=16",)))


def test_tables_hold_the_numbers_of_the_document(demo: econ.Answer) -> None:
    whole = document(demo)
    limits = [row for row in rows(demo, "curve") if row["row"] == "limit by runs"]
    for row, other in zip(limits, whole["by_runs"], strict=True):
        assert {key: row[key] for key in ("runs", "days", "p10", "p50", "p90")} == {
            key: other[key] for key in ("runs", "days", "p10", "p50", "p90")
        }
        assert row["expected_cost"] == other["expected_cost"]
    assert [row["runs"] for row in limits if row["best"]] == [whole["answer"]["runs"]]
    flat = [row["runs"] for row in limits if row["flat"]]
    assert [flat[0], flat[-1]] == whole["answer"]["flat_runs"]
    by_days = [row for row in rows(demo, "curve") if row["row"] == "limit by days"]
    assert [(row["days"], row["expected_cost"]) for row in by_days] == [
        (row["days"], row["expected_cost"]) for row in whole["by_days"]
    ]
    rules = [row["days"] for row in rows(demo, "curve") if row["row"] == "published rule"]
    assert rules == list(whole["rules"].values())
    out = [row for row in rows(demo, "recovery") if row["row"] == "limit by runs"]
    assert [row["probability_recovered"] for row in out] == [
        row["probability_recovered"] for row in whole["by_runs"]
    ]
    belief = rows(demo, "belief")
    assert [row["workable"] for row in belief] == [row["workable"] for row in whole["belief"]]
    assert belief[0]["break_even_odds"] == whole["next_run"]["break_even_odds"]
    total = sum(row["expected"] for row in rows(demo, "causes"))
    assert total == pytest.approx(whole["answer"]["expected_cost"], rel=1e-9)
    out_chance = sum(row["recovered"] for row in rows(demo, "distribution"))
    assert out_chance == pytest.approx(whole["answer"]["probability_recovered"], abs=1e-9)
    depth = {row["what"]: row for row in rows(demo, "depth") if row["branch"] == "fallback"}
    assert depth["fishing stops"]["chance"] == pytest.approx(1 - out_chance)


def test_program_and_depth_go_on_from_a_log() -> None:
    job = econ.load(DEMO_A, ("draws.n=16",))
    answer = econ.answer(job, econ.read_log(LOG, job))
    program = rows(answer, "program")
    made = [row for row in program if row["part"] == "made"]
    assert [row["run"] for row in made] == [1, 2]
    assert made[-1]["end"] == 0.0
    assert min(row["start"] for row in program if row["part"] != "made") == 0.0
    top = next(row for row in rows(answer, "depth") if row["what"] == "fish top")
    assert top["depth"] == pytest.approx(answer.log[-1].fish_top)
    for name in OF_ANSWER:
        assert overlaps(figure(answer, name)) == []


def test_every_number_of_a_metric_job_is_in_its_units() -> None:
    table = {row["what"]: row["depth"] for row in rows(answered("metric"), "depth")}
    well, fish = raws()["metric"]["well"], raws()["metric"]["fish"]
    assert table["drilled to"] == pytest.approx(well["depth"])
    assert table["fish top"] == pytest.approx(fish["top"])
    assert "m" in alt_text(answered("metric"), "depth").split()


def test_a_table_is_not_changed_by_who_reads_it(demo: econ.Answer) -> None:
    before = rows(demo, "causes")
    rows(demo, "causes")[0]["expected"] = -1.0
    assert rows(demo, "causes") == before


def test_swings_and_map_need_a_sensitivity(demo: econ.Answer) -> None:
    for name in NEED_SENSITIVITY:
        with pytest.raises(ValueError, match="needs a sensitivity"):
            figure(demo, name)


@pytest.mark.parametrize("name", OF_ANSWER)
def test_alt_text_tells_the_main_numbers(name: str, demo: econ.Answer) -> None:
    words = alt_text(demo, name)
    limit = demo.limit
    told = {
        "curve": [f"Fish on: at most {limit.runs} more runs", f"{limit.expected_cost / 1000:,.0f}"],
        "recovery": [f"{100 * limit.probability_recovered:.0f} %"],
        "belief": [f"odds {demo.ahead[0].odds:.2f}", f"belief {demo.ahead[1].workable:.2f}"],
        "causes": [f"{limit.expected_cost / 1000:,.0f} thousand USD", "Kick-off trouble"],
        "distribution": [f"P90 {limit.p90 / 1000:,.0f}", f"P10 {limit.p10 / 1000:,.0f}"],
        "depth": ["11,180 ft", "11,850 ft", f"{100 * limit.probability_recovered:.0f} %"],
        "program": [demo.ahead[-1].name, f"best limit is {limit.runs} runs"],
    }
    assert [each for each in told[name] if each not in words] == []


# ---- names ------------------------------------------------------------------------------------


def test_hostile_names_are_drawn_as_they_are_written() -> None:
    every = " ".join(each.get_text() for each in words_of(drawn("hostile", "program")))
    assert "$x^2$ mathtext" in every
    assert "<script>" in every
    for name in OF_ANSWER:
        picture = svg(drawn("hostile", name)).decode()
        tags = {element.tag.split("}")[-1] for element in ElementTree.fromstring(picture).iter()}
        assert not tags & {"script", "img", "text", "foreignObject", "a"}
        assert "<script" not in picture


def test_what_the_typeface_lacks_becomes_a_box() -> None:
    assert shown(CHINESE[:5]) == BOX * 5
    assert shown("a\u0000b\u202ec\u200fd") == "abcd"
    assert shown("two\nlines\tand\u2028more") == "two lines and more"
    assert BOX not in shown(ARABIC)
    assert len(shown(PILED)) < 20
    assert shown("cr\u00e8me br\u00fbl\u00e9e") == "cr\u00e8me br\u00fbl\u00e9e"


@pytest.mark.parametrize("words", [HOSTILE, CHINESE, ARABIC, PILED, "W" * 300, "", " "])
def test_a_name_is_cut_to_its_place(words: str) -> None:
    for most in (12.0, 40.0, 150.0):
        line = cut(words, most=most, size=theme.SMALL)
        assert width(line, size=theme.SMALL) <= most
        assert line == shown(words) or line.endswith(DOTS)
        lines = folded(words, most=most, size=theme.SMALL, lines=2)
        assert len(lines) <= 2
        assert max(width(each, size=theme.SMALL) for each in lines) <= most


@pytest.mark.parametrize("weight", ["normal", "bold"])
def test_letters_by_themselves_say_when_a_line_fits(weight: Weight) -> None:
    # Three letters a line: the same pairs again and again, so that kerning adds up.
    rng = random.Random(0)
    letters = [chr(code) for code in range(32, 127)]
    for _ in range(300):
        line = "".join(rng.choices(rng.sample(letters, 3), k=40))
        wide = width(line, size=theme.SMALL, weight=weight)
        for share in (0.9, 0.99, 0.999, 1.0, 1.2):
            told = fits(line, most=wide * share, size=theme.SMALL, weight=weight)
            assert told == (share >= 1.0), line


# ---- colours ----------------------------------------------------------------------------------


def test_luminance_and_contrast_as_published() -> None:
    # WCAG 2.1: 21 is the contrast of black and white; #767676 is the lightest grey with 4.54
    assert theme.contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert theme.contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


def test_colours_are_told_apart_in_a_grey_print() -> None:
    meaning = [theme.FISHING, theme.FALLBACK, theme.RECOVERED]
    for one, other in combinations(meaning, 2):
        assert theme.contrast(one, other) >= 1.6
    for colour in meaning:
        assert theme.contrast(colour, theme.PAPER) >= 3.0
    for ink in (theme.INK, theme.MUTED):
        for ground in (theme.PAPER, theme.WASH, theme.BAND, theme.FLAT):
            assert theme.contrast(ink, ground) >= 4.5
    for parts in combinations((theme.BAND, theme.FISHING_TINT, theme.FISHING), 2):
        assert theme.contrast(*parts) >= 2.0


@pytest.mark.parametrize("most", [1, 2, 3, 5, 12, 60])
def test_every_cell_of_the_map_can_be_read(most: int) -> None:
    shades = [shade(count, most=most) for count in range(most + 1)]
    for colour in shades:
        assert theme.contrast(readable(colour), colour) >= 4.5
    dark = [theme.luminance(colour) for colour in shades[1:]]
    assert dark == sorted(dark, reverse=True)  # more runs, darker


@pytest.mark.parametrize("name", OF_ANSWER)
def test_a_figure_has_only_colours_of_the_look(name: str, demo: econ.Answer) -> None:
    picture = svg(figure(demo, name)).decode()
    mine = {value for value in vars(theme).values() if str(value).startswith("#")}
    assert set(re.findall(r"#[0-9a-f]{6}\b", picture)) - mine <= {"#000000"}  # of the letters


def test_text_is_dark_enough_for_its_size(demo: econ.Answer) -> None:
    for name in OF_ANSWER:
        for words in words_of(figure(demo, name)):
            assert theme.contrast(to_hex(words.get_color()), theme.PAPER) >= 4.5


# ---- bytes ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", OF_ANSWER)
def test_same_bytes_whatever_the_settings_of_a_user(name: str) -> None:
    first = svg(drawn("lump", name)), png(drawn("lump", name), dpi=60)
    with matplotlib.rc_context(
        {
            "axes.facecolor": "pink",
            "font.size": 20,
            "svg.fonttype": "none",
            "axes.grid": True,
            "lines.linewidth": 9,
        }
    ):
        assert (svg(drawn("lump", name)), png(drawn("lump", name), dpi=60)) == first
    assert b"<dc:date>" not in first[0]
    assert b"Software" not in first[1]


def test_png_has_the_dots_asked_for() -> None:
    picture = png(drawn("lump", "belief"), dpi=100.0)
    assert struct.unpack(">I", picture[16:20])[0] == round(170.0 / 25.4 * 100.0 - 0.5)


# ---- tables as CSV ----------------------------------------------------------------------------


@pytest.mark.parametrize("start", ["=", "+", "-", "@", " =", "\t=", "\uff1d"])
def test_csv_text_that_a_spreadsheet_would_run_gets_an_apostrophe(start: str) -> None:
    text = as_csv([{"name": f'{start}1+1,"x"', "cost": -2.5, "none": None, "best": True}])
    header, cells = csv.reader(io.StringIO(text))
    assert header == ["name", "cost", "none", "best"]
    assert cells == [f'\'{start}1+1,"x"', "-2.5", "", "yes"]


def test_csv_of_rows_with_different_keys() -> None:
    assert as_csv([{"a": 1}, {"b": "x"}]) == "a,b\n1,\n,x\n"
    assert as_csv([]) == "\n"


# ---- command ----------------------------------------------------------------------------------


def write(path: Path, raw: Table) -> Path:
    """A job as a file; JSON strings, numbers and lists of one line are TOML as well."""

    def lines(table: Table, at: str) -> Iterator[str]:
        subtables = {k: v for k, v in table.items() if isinstance(v, dict)}
        for key, value in table.items():
            if key not in subtables:
                yield f"{json.dumps(key)} = {inline(value)}"
        for key, value in subtables.items():
            yield f"[{at}{json.dumps(key)}]"
            yield from lines(value, f"{at}{json.dumps(key)}.")

    def inline(value: object) -> str:
        if isinstance(value, dict):
            return (
                "{ " + ", ".join(f"{json.dumps(k)} = {inline(v)}" for k, v in value.items()) + " }"
            )
        if isinstance(value, list):
            return "[" + ", ".join(inline(each) for each in value) + "]"
        return json.dumps(value)

    path.write_text("\n".join(lines(raw, "")), encoding="utf-8")
    return path


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["figures", *map(str, arguments)])


FEW = ("--set", "draws.n=16")


@pytest.fixture
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small job in a folder of its own."""
    raw = turned_job() | {"draws": {"n": 16}}
    raw["run"] = raw["run"][:1]
    return write(tmp_path_factory.mktemp("job") / "job.toml", raw)


def test_command_writes_every_figure_and_its_table_and_the_same_again(
    tmp_path: Path, job: Path
) -> None:
    folder = tmp_path / "new" / "folder"
    result = run(job, "--out", folder)
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith(f"wrote {3 * len(FIGURES)} files to ")
    files = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert set(files) == {f"{name}.{end}" for name in FIGURES for end in ("svg", "png", "csv")}
    for name in FIGURES:
        assert files[f"{name}.png"].startswith(b"\x89PNG")
        ElementTree.fromstring(files[f"{name}.svg"])
        table = list(csv.reader(io.StringIO(files[f"{name}.csv"].decode())))
        assert len(table) >= 2
        assert {len(row) for row in table} == {len(table[0])}
    (folder / "curve.svg").write_text("old", encoding="utf-8")
    assert run(job, "--out", folder, "--size", "memo").exit_code == 0
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == files


def test_command_after_a_log_draws_what_is_left(tmp_path: Path) -> None:
    raw = turned_job() | {"draws": {"n": 16}}
    job, log = write(tmp_path / "job.toml", raw), tmp_path / "log.csv"
    log.write_text(
        "run,start,end,outcome\n1,2026-03-14T06:00,2026-03-15T06:00,nothing\n", encoding="utf-8"
    )
    result = run(job, "--log", log, "--out", tmp_path / "after")
    assert result.exit_code == 0, result.output
    after = list(csv.DictReader((tmp_path / "after" / "map.csv").read_text().splitlines()))
    # independent: the sensitivity of the job without its first run, which taught nothing, because
    # both runs have one table of odds; only the mobilization is behind it then
    left = raw | {"run": raw["run"][1:], "fishing": {**raw["fishing"], "mobilization": 0.0}}
    best = {"after": [row["runs"] for row in after]}
    for name, table in (("before", raw), ("left", left)):
        whole = scenario(table)
        found = rows(econ.answer(whole), "map", sensitivity(whole, learning=False))
        best[name] = [str(row["runs"]) for row in found]
    assert best["after"] == best["left"] != best["before"]


def test_command_writes_nothing_where_it_cannot_write_all(tmp_path: Path, job: Path) -> None:
    (tmp_path / "distribution.png").mkdir()
    (tmp_path / "curve.svg").write_text("old", encoding="utf-8")
    result = run(job, "--out", tmp_path, *FEW)
    assert result.exit_code == 2
    assert "distribution.png there is not a file" in result.stderr
    assert {path.name for path in tmp_path.iterdir()} == {"distribution.png", "curve.svg"}
    assert (tmp_path / "curve.svg").read_text(encoding="utf-8") == "old"


@pytest.mark.parametrize("place", ["taken", "taken/below", "nul\0byte"])
def test_command_refuses_a_folder_that_cannot_be(tmp_path: Path, job: Path, place: str) -> None:
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    result = run(job, "--out", f"{tmp_path}/{place}", *FEW)
    assert result.exit_code == 2
    assert "a folder that can be written" in result.stderr
    assert "Traceback" not in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["taken"]


def test_command_reports_a_bad_file_and_makes_no_folder(tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text("schema = 1\n", encoding="utf-8")
    assert run(bad, "--out", tmp_path / "out").exit_code == 2
    assert not (tmp_path / "out").exists()
