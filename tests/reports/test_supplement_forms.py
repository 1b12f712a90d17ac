"""The supplement as a page and as CSV, its own codes, and the command that writes all of it.

Origins of the expected numbers: independent, from the rules of the interface; the workbook's
values for the page and the CSV tables.
"""

from __future__ import annotations

import csv
import html
import io
import re
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from page_browser import FLAGS, chromium
from raw_jobs import SCENARIO_A
from supplement_jobs import answer_a, checked, scenario_a
from test_supplement_file import HOSTILE, hostile_supplement

from econ.cli import main
from econ.cli.exits import UnfinishedError
from econ.cli.files import write_files
from econ.reports.supplement import TABLES, Code, Supplement, page, supplement, table_csv
from econ.reports.supplement.codes import parse_codes
from econ.reports.supplement.costs import COLUMNS
from econ.reports.supplement.shares import SHARED
from econ.reports.supplement.styles import shown
from econ.scenario import ScenarioError

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
DEMOS = SCENARIO_A.parents[2] / "scenarios"
QUICK = ("--set", "draws.n=16")
TAGS = {
    *("html", "head", "meta", "title", "style", "body", "h1", "h2", "p", "div", "table"),
    *("colgroup", "col", "tr", "th", "td"),
}


class Reader(HTMLParser):
    """Tags of a page, and its tables as rows of words."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.attributes: set[str] = set()
        self.rows: list[list[str]] = []
        self.open = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")
            self.open = True

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th"):
            self.open = False

    def handle_data(self, data: str) -> None:
        if self.open:
            self.rows[-1][-1] += data.strip("\n")


def read(text: str) -> Reader:
    reader = Reader()
    reader.feed(text)
    return reader


def table(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


@pytest.fixture(scope="module")
def found() -> Supplement:
    return supplement(answer_a())


# ---- page and CSV hold the numbers of the workbook ----------------------------------------------


def test_page_and_csv_hold_the_cost_table(found: Supplement) -> None:
    wide = 4 + len(COLUMNS) + 2
    rows = {row[0]: row for row in read(page(found)).rows if len(row) == wide}
    lines = {row["code"]: row for row in table(table_csv(found, "costs"))}
    for line in found.costs.lines:
        cells = [shown(line.amounts[name], "money") for name in COLUMNS]
        assert rows[line.code][4:-2] == cells
        for name in COLUMNS:
            assert float(lines[line.code][name]) == line.amounts[name].number
        # by hand: what is new against what was approved, in percent
        if approved := float(lines[line.code]["approved"]):
            over = 100.0 * (float(lines[line.code]["revised"]) - approved) / approved
            assert float(lines[line.code]["percent_over"]) == pytest.approx(over, abs=1e-9)


def test_page_holds_partners_options_and_slices(found: Supplement) -> None:
    rows = read(page(found)).rows
    for partner in found.shares.partners:
        nets = [shown(partner.nets[name], "cents") for name in SHARED]
        named = (row for row in rows if row and row[0].startswith(partner.name))
        assert any(row[2:] == nets for row in named)
    flat = {cell for row in rows for cell in row}
    for each in found.ask.slices:
        for cell in (each.mean, each.p90):
            assert shown(cell, "money") in flat
        assert shown(each.chance, "%") in flat
    for choice in found.choices:
        assert choice.mean is None or shown(choice.mean, "money") in flat


@pytest.mark.parametrize("name", TABLES)
def test_tables_are_rectangular(name: str, found: Supplement) -> None:
    text = table_csv(found, name)
    rows = list(csv.reader(io.StringIO(text)))
    assert len({len(row) for row in rows}) == 1
    assert len(rows) > 2
    assert "nan" not in text


def test_csv_holds_the_estimate(found: Supplement) -> None:
    rows = table(table_csv(found, "lines"))
    assert len(rows) == len(found.estimate.lines)
    for row in rows:
        for name in ("planned", "expected"):
            if row[f"{name}_quantity"]:
                amount = float(row[f"{name}_quantity"]) * float(row[f"{name}_price"])
                assert float(row[f"{name}_amount"]) == pytest.approx(amount, rel=1e-12)
    for own in found.answer.authority.call.slices:
        amounts = [float(row["expected_amount"]) for row in rows if row["slice"] == own.slice]
        assert sum(amounts) == pytest.approx(own.expected, abs=0.005)


def test_page_is_whole_and_quiet(found: Supplement) -> None:
    text = page(found)
    assert "default-src 'none'" in text
    assert "http://" not in text
    assert "https://" not in text
    assert read(text).tags <= TAGS
    # published: a percentile of a cost is not exceeded with that chance (Australian Department of
    # Finance, RMG 500); reserves are quoted the other way round
    assert "not exceeded with a chance of 10, 50 and 90 %" in text
    assert text == page(found)


@pytest.mark.parametrize("words", HOSTILE, ids=lambda words: ascii(words[:14]))
def test_text_of_a_user_is_text(words: str) -> None:
    made = hostile_supplement(words)
    text = page(made)
    reader = read(text)
    assert reader.tags <= TAGS
    assert not {name for name in reader.attributes if name.startswith("on")} | (
        reader.attributes & {"src", "href"}
    )
    assert any(words in cell for row in reader.rows for cell in row)
    for name in TABLES:
        for row in csv.reader(io.StringIO(table_csv(made, name))):
            for cell in row:
                number = cell.replace(".", "").replace("-", "").replace("e", "").isdigit()
                assert number or not cell.startswith(("=", "+", "-", "@")), cell


def test_negative_amounts_are_numbers(found: Supplement) -> None:
    lines = {row["code"]: row for row in table(table_csv(found, "costs"))}
    assert lines["CT10"]["change"] == "-250000.0"


# ---- the page on paper --------------------------------------------------------------------------


@pytest.mark.parametrize(("paper", "size"), [("A4", (842, 595)), ("letter", (792, 612))])
def test_page_prints_whole(paper: str, size: tuple[int, int], tmp_path: Path) -> None:
    # independent: a browser prints it, poppler says where each word lies
    found = supplement(answer_a())
    text = page(found).replace("@page {", f"@page {{ size: {paper};")
    text = text.replace("size: landscape", f"size: {paper} landscape")
    boxes = printed(text, tmp_path)
    partners = len(found.shares.partners)
    names = [re.findall(r"Sheet (\w+)", " ".join(word for word, *_ in page)) for page in boxes]
    set_ = ["Supplement", "Costs", "Choices", "Issue", *["Partner"] * partners, "Lost"]
    assert [each[-1] for each in names] == set_  # one page each, no working sheet
    for number, (words, name) in enumerate(zip(boxes, set_, strict=True)):
        across, down = size if name in ("Costs", "Choices", "Lost") else size[::-1]
        for _, left, top, right, bottom in words:
            assert 0.0 < left < right < across, (number, words)
            assert 0.0 < top < bottom < down
    on_costs = [word for word, *_ in boxes[1]]
    for line in (*found.costs.lines, found.costs):
        amounts = line.amounts if line is not found.costs else found.costs.total
        for name, cell in amounts.items():
            if cell.number:
                assert shown(cell, "money") in on_costs, name
    for each in boxes[3:-1]:
        assert "Signature" in [word for word, *_ in each]
    heights = [bottom - top for _, _, top, _, bottom in boxes[1]]
    assert min(heights) > 7.5  # points: type of 7.5 and what is above and below it


def printed(text: str, folder: Path) -> list[list[tuple[str, float, float, float, float]]]:
    """The words of each page of a page that is printed, with left, top, right and bottom [pt]."""
    (folder / "page.html").write_text(text, encoding="utf-8")
    run = [chromium(), *FLAGS, "--no-pdf-header-footer", f"--user-data-dir={folder / 'profile'}"]
    run += [f"--print-to-pdf={folder / 'page.pdf'}", (folder / "page.html").as_uri()]
    subprocess.run(run, check=True, capture_output=True, timeout=120)
    told = ["pdftotext", "-bbox", str(folder / "page.pdf"), "-"]
    boxes = subprocess.run(told, check=True, capture_output=True, timeout=60).stdout.decode()
    numbers = r'xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*?)</word>'
    return [
        [(html.unescape(word), *map(float, at)) for *at, word in re.findall(numbers, page)]
        for page in boxes.split("<page ")[1:]
    ]


# ---- codes --------------------------------------------------------------------------------------


def test_codes_of_a_company() -> None:
    scenario = checked(scenario_a())
    text = "theirs;ours;description\n7100;RT10;Rig daywork, own words\n7190;FS10;\n"
    codes = parse_codes(text, scenario)
    assert codes == {"RT10": Code("7100", "Rig daywork, own words"), "FS10": Code("7190")}
    lines = {row["our_code"]: row for row in table(table_csv(_mapped(codes), "costs"))}
    assert lines["RT10"]["code"] == "7100"
    assert lines["RT10"]["description"] == "Rig daywork, own words"
    assert lines["FS10"]["code"] == "7190"
    assert lines["FS10"]["description"].startswith("Rig, standing services")
    assert lines["FS20"]["code"] == "FS20"


def _mapped(codes: object) -> Supplement:
    return supplement(answer_a(), codes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("ours,theirs\nFS11,1\n", "row 2, ours: given 'FS11'"),
        ("ours,theirs\nFS1O,1\n", "did you mean FS10?"),
        ("ours,theirs\nFS10,1\nFS10,2\n", "row 3, ours: given 'FS10' twice"),
        ("ours,theirs\nFS10,\n", "row 2, theirs: given an empty cell"),
        ("code,theirs\nFS10,1\n", "row 1, header"),
        ("", "row 1, header"),
        ('ours,theirs\n"FS10,1\n', "a row that cannot be split"),
        (f"ours,theirs\nFS10,{'x' * 301}\n", "up to 300 characters"),
    ],
)
def test_faults_of_a_mapping(text: str, said: str) -> None:
    with pytest.raises(ScenarioError) as error:
        parse_codes(text, checked(scenario_a()), file="codes.csv")
    assert said in str(error.value)
    assert "codes.csv row" in str(error.value)


# ---- the command --------------------------------------------------------------------------------


def econ(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def test_command_writes_every_form(tmp_path: Path) -> None:
    file = DEMOS / "a_land_twist_off.toml"
    mapping = tmp_path / "codes.csv"
    mapping.write_text("ours,theirs,description\nRT10,7100,=own\n", encoding="utf-8")
    outs = [tmp_path / name for name in ("a.xlsx", "a.html", "a.csv")]
    (tmp_path / "a.csv").write_text("old", encoding="utf-8")
    more = [part for out in outs for part in ("--out", out)]
    log = DEMOS / "logs" / "a_two_runs.csv"
    result = econ("afe", file, *more, "--codes", mapping, "--log", log, *QUICK)
    assert result.exit_code == 0, result.output
    assert outs[0].read_bytes()[:2] == b"PK"
    assert outs[1].read_text(encoding="utf-8").startswith("<!doctype html>")
    rows = table(outs[2].read_text(encoding="utf-8"))
    lines = {row["our_code"]: row for row in rows}
    assert lines["RT10"]["code"] == "7100"
    assert lines["RT10"]["description"] == "'=own"
    assert float(lines["FS00"]["spent"]) == 212_000  # both runs of the log
    before = [out.read_bytes() for out in outs]
    assert econ("afe", file, *more, "--codes", mapping, "--log", log, *QUICK).exit_code == 0
    assert [out.read_bytes() for out in outs] == before


@pytest.mark.parametrize("name", TABLES)
def test_command_writes_the_table_asked_for(name: str, tmp_path: Path) -> None:
    out = tmp_path / "t.csv"
    file = DEMOS / "c_bit_cones.toml"
    assert econ("afe", file, "--out", out, "--table", name, *QUICK).exit_code == 0
    assert table(out.read_text(encoding="utf-8"))


def test_an_issue_is_kept_and_held_to(tmp_path: Path) -> None:
    # by hand: 1,000 a day more on the spread is 1,000 a day of fishing in slice 1a
    issue, file = tmp_path / "issue.json", DEMOS / "point" / "a_land_twist_off.toml"
    assert econ("afe", file, "--out", issue, *QUICK).exit_code == 0
    result = econ("afe", file, "--hold", issue, "--set", "rates.rig=28000", *QUICK)
    assert result.exit_code == 0, result.output
    assert all(len(line) <= 64 for line in result.output.splitlines())
    (planned,) = [line.split() for line in result.output.splitlines() if "planned" in line][1:2]
    before, after, change = (float(cell.replace(",", "")) for cell in planned[1:])
    assert change == pytest.approx(after - before, abs=0.02)
    days = answer_a().limit.days
    assert change == pytest.approx(1000 * days, rel=1e-3)
    other = econ("afe", DEMOS / "c_bit_cones.toml", "--hold", issue)
    assert other.exit_code == 2
    assert "decided anew" in other.stderr


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--out", "x.pdf"), "a name that ends in .xlsx, .html, .csv"),
        (("--out", "x"), "a name that ends in"),
        (("--out", "none/x.csv"), "a file that can be written"),
        ((), "Give --out NAME"),
        (("--out", "x.csv", "--hold", "x.json"), "--hold ISSUED.json alone"),
        (("--hold", "none.json"), "none.json"),
        (("--out", "x.csv", "--codes", "none.csv"), "check the name of the mapping"),
        (("--out", "x.csv", "--log", "none.csv"), "check the name of the run log"),
    ],
)
def test_command_refuses(
    arguments: tuple[str, ...], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    result = econ("afe", DEMOS / "c_bit_cones.toml", *arguments, *QUICK)
    assert result.exit_code == 2
    assert said in result.stderr
    assert "Traceback" not in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_write_files_replaces_and_keeps_nothing_else(tmp_path: Path) -> None:
    file = tmp_path / "f.bin"
    write_files({str(file): b"one"})
    write_files({str(file): b"two"})
    assert file.read_bytes() == b"two"
    link = tmp_path / "link.bin"
    link.symlink_to(file)
    write_files({str(link): b"three"})
    assert link.is_symlink()
    assert file.read_bytes() == b"three"
    (tmp_path / "folder").mkdir()
    with pytest.raises(UnfinishedError, match="could not be written"):
        write_files({str(tmp_path / "folder"): b"x"})
    assert sorted(path.name for path in tmp_path.iterdir()) == ["f.bin", "folder", "link.bin"]
