"""The form and the first questions, in the system's own Chromium."""

from __future__ import annotations

import json
import shutil
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from selenium.webdriver.common.keys import Keys

from econ.scenario.load import load

from .browser import Window, window
from .running import ROOT, Desk

PASTE = """
const data = new DataTransfer();
data.setData("text/plain", arguments[1]);
const parts = {clipboardData: data, bubbles: true, cancelable: true};
arguments[0].dispatchEvent(new ClipboardEvent("paste", parts));
"""
HOSTILE = "\"'</script><script>alert(1)</script>\u202e\\u0041"


@pytest.fixture(scope="module")
def browser() -> Iterator[Window]:
    with window("--lang=en-US") as made:
        made.size(1280, 900)
        yield made


def opened(browser: Window, path: Path) -> Desk:
    desk = Desk(path)
    try:
        browser.open(f"{desk.origin}/#{desk.token}")
        browser.wait(lambda: browser.all("#parts button"))
    except BaseException:
        desk.close()
        raise
    return desk


def part(browser: Window, words: str) -> None:
    browser.button(words, "#parts").click()


def section(browser: Window, name: str) -> None:
    browser.wait(lambda: browser.all(f"#section-{name}"))
    if browser.one(f"#section-{name}").get_attribute("open") is None:
        browser.one(f"#section-{name} > summary").click()


def typed(browser: Window, key: str, text: str) -> None:
    control = browser.one(f'[data-key="{key}"] input')
    control.send_keys(Keys.CONTROL, "a", Keys.NULL, text or Keys.DELETE, Keys.TAB)


def saved(browser: Window, path: Path) -> None:
    browser.button("Save").click()
    browser.wait_for_text("Saved", "#standing")
    assert path.exists()


def test_fields_ranges_faults_undo_and_a_paste_of_40_rows(browser: Window, tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    shutil.copy(ROOT / "scenarios" / "point" / "a_land_twist_off.toml", path)
    desk = opened(browser, path)
    try:
        part(browser, "The job")
        section(browser, "fish")
        # A fault stands beside its field, without line and key, and goes when it is mended.
        typed(browser, "fish.top", "99999")
        browser.wait_for_text("write a top above the bottom", '#part-form [data-key="fish.top"]')
        assert browser.one('[data-key="fish.top"] input').get_attribute("aria-invalid") == "true"
        typed(browser, "fish.top", "11,190")
        browser.wait(lambda: not browser.text('#part-form [data-key="fish.top"] .wrong'))
        browser.button("Take back").click()
        browser.button("Take back").click()
        browser.wait(
            lambda: browser.one('[data-key="fish.top"] input').get_attribute("value") == "11,180"
        )
        # A number becomes a range by the keyboard alone. Its ends are for the user to write; begun
        # and not finished it outlives other changes, is counted, and the file has what it had.
        section(browser, "rates")
        rig = '#part-form [data-key="rates.rig"]'
        browser.one(f"{rig} select").send_keys("Low, l")
        browser.wait(lambda: len(browser.all(f"{rig} .slots input")) == 3)
        low, likely, high = browser.all(f"{rig} .slots input")
        assert [each.get_attribute("value") for each in (low, likely, high)] == ["", "27,000", ""]
        low.send_keys("24000", Keys.TAB)
        typed(browser, "rates.fuel", "5600")
        browser.wait_for_text("1 thing to put right", "#standing")
        assert "A range that is begun: write high" in browser.text("#part-form .form-head")
        assert low.get_attribute("value") == "24000"
        high.send_keys("31000", Keys.TAB)
        browser.wait(lambda: "put right" not in browser.text("#standing"))
        # What was refused is said until something else is tried.
        browser.driver.execute_async_script(
            "const [done] = arguments; import('/assets/desk.js').then(({ desk }) =>"
            " desk.change([{ op: 'set', key: 'run.99.charge', value: 1 }]).then(() => done()))"
        )
        browser.wait_for_text("This was not done:", "#news")
        assert [each for each in browser.complaints() if "422" not in each] == []
        typed(browser, "rates.fuel", "5650")
        browser.wait(lambda: not browser.text("#news"))
        # A cell of a table holds what cannot be read, and its row stays where it is until it is
        # finished or left.
        section(browser, "piece")
        browser.one('#section-piece [data-place="1"][data-column="1"]').send_keys("x", Keys.TAB)
        typed(browser, "rates.fuel", "5700")
        browser.wait_for_text("1 thing to put right", "#standing")
        browser.button("Take piece 1 out", "#section-piece").click()
        browser.wait_for_text("Finish what is begun here first: Piece 1: Length", "#section-piece")
        browser.button("Leave it as it was", "#section-piece").click()
        browser.wait(lambda: "put right" not in browser.text("#standing"))
        # Hostile names are text in every place, and in the file.
        section(browser, "job")
        browser.run("window.alert = () => { window.hit = true; }")
        typed(browser, "job.well", HOSTILE.replace("\u202e", ""))
        # 40 rows from a spreadsheet, with the names of their columns.
        section(browser, "line")
        rows = "\n".join(f"C{n}\tLine {n}\t{n},500\t0\tyes" for n in range(1, 41))
        browser.button("Paste rows", "#section-line").click()
        box = browser.one("#section-line textarea")
        browser.run(
            "arguments[0].value = arguments[1]",
            box,
            f"Code\tDescription\tOriginal\tSpent\tTangible\n{rows}\n\tTotal\t$820,000\t0\t",
        )
        browser.button("Read them", "#section-line").click()
        browser.wait_for_text("What is 1,500 in these rows?", "#section-line .paste")
        browser.button("1500: the comma parts thousands", "#section-line").click()
        browser.wait_for_text("40 rows of Code, Description", "#section-line .paste")
        assert "A row of totals is left out" in browser.text("#section-line .paste")
        # Until they are put in or left they are something to put right, and hold the list.
        browser.wait_for_text("Rows that were pasted", ".faults")
        browser.button("Add a line", "#section-line").click()
        browser.wait_for_text("Finish what is begun here first: Rows that were", "#section-line")
        # Other names of columns are understood or told, and are no row themselves.
        for heads, told in (
            ("Code\tDescription\tBudget\tActual\tForecast", "Original (from Budget), Spent (from"),
            ("No\tItem\tA\tB\tC", "To come (from C)"),
        ):
            browser.button("Leave it", "#section-line .paste").click()
            browser.button("Paste rows", "#section-line").click()
            box = browser.one("#section-line textarea")
            few = f"{heads}\nC1\tLine\t1250\t0\t3"
            browser.run("arguments[0].value = arguments[1]", box, few)
            browser.button("Read them", "#section-line").click()
            browser.wait_for_text("1 row of Code", "#section-line .paste")
            assert told in browser.text("#section-line .paste")
            assert ("no place here for Forecast" in browser.text("#section-line .paste")) == (
                "Forecast" in heads
            )
        browser.button("Leave it", "#section-line .paste").click()
        browser.button("Paste rows", "#section-line").click()
        box = browser.one("#section-line textarea")
        whole = f"Code\tDescription\tOriginal\tSpent\tTangible\n{rows}\n"
        browser.run("arguments[0].value = arguments[1]", box, whole)
        browser.button("Read them", "#section-line").click()
        browser.button("1500: the comma parts thousands", "#section-line").click()
        browser.button("Put them in", "#section-line").click()
        browser.wait_for_text("40 rows were put in", "#section-line .paste")
        assert "Rows that were pasted" not in browser.text("#part-form")
        # And two at a cell, as a spreadsheet gives them.
        cell = browser.one('#section-line [data-place="1"][data-column="2"]')
        browser.run(PASTE, cell, "12,5\t3\n7\t4\n")
        browser.button("Put them in", "#section-line").click()
        browser.wait_for_text("2 rows were put in", "#section-line .paste")
        browser.one("#section-line caption").click()  # a word of what was done is of that alone
        assert not browser.text("#section-line .paste")
        # Runs with odds by kind of fish keep both kinds, and odds of no kind are told not to learn.
        section(browser, "run")
        heads = "Run\tHours\tFish out\tNothing", "Fish out, good fish\tNothing, good fish"
        both = "Run\tHours\t" + "\t".join((heads[1], heads[1].replace("good", "stubborn")))
        for rows, warns in (
            (f"{heads[0]}\nSpear\t20\t0.3\t0.7", True),
            (f"{both}\nSpear\t20\t0.5\t0.5\t0.1\t0.9", False),
        ):
            browser.button("Paste rows", "#section-run").click()
            box = browser.one("#section-run textarea")
            browser.run("arguments[0].value = arguments[1]", box, rows)
            browser.button("Read them", "#section-run").click()
            browser.wait_for_text("1 row of Run, All hours", "#section-run .paste")
            assert ("teaches nothing" in browser.text("#section-run .paste")) == warns
            browser.button("Leave it" if warns else "Put them in", "#section-run").click()
        browser.wait_for_text("1 row was put in", "#section-run .paste")
        saved(browser, path)
        values = tomllib.loads(path.read_text(encoding="utf-8"))
        assert values["fish"]["top"] == 11180
        assert values["rates"]["rig"] == {"low": 24000, "likely": 27000, "high": 31000}
        assert values["run"][-1]["odds"] == {
            "workable": {"recovered": 0.5, "nothing": 0.5},
            "stubborn": {"recovered": 0.1, "nothing": 0.9},
        }
        lines = values["afe"]["line"]
        assert len(lines) == 19 + 40
        assert lines[58] == {
            "code": "C40",
            "name": "Line 40",
            "original": 40500,
            "spent": 0,
            "tangible": True,
        }
        assert (lines[0]["original"], lines[0]["spent"], lines[1]["spent"]) == (12.5, 3, 4)
        assert values["job"]["well"] == HOSTILE.replace("\u202e", "")
        assert not browser.run("return window.hit")
        load(path)
        assert browser.complaints() == []
    finally:
        desk.close()


def test_a_new_user_from_nothing_to_an_answer(browser: Window, tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    desk = opened(browser, path)
    try:
        part(browser, "First questions")
        browser.wait_for_text("10. Which runs?", "#part-questions")
        # Asked too early, what is missing is told beside its question.
        browser.button("Which runs suit?").click()
        browser.wait_for_text("answers are missing", "#part-questions")
        for key, text in (
            ("job.well", "Invented 9"),
            ("well.depth", "9,800"),
            ("fish.top", "9300"),
            ("well.hole_diameter", "8 1/2"),
            ("well.shoe_depth", "3600 ft"),
            ("fish.outside_diameter", "6.5"),
            ("rates.services", "21000"),
            ("rates.rig", "$26k/d"),
        ):
            typed(browser, key, text)
        browser.wait_for_text('"8 1/2" is read as 8.5', '[data-key="well.hole_diameter"]')
        browser.wait_for_text('"$26k/d" is read as 26,000', '[data-key="rates.rig"]')
        # A window that knows nothing, as after a start anew, is offered what was answered.
        kept = path.with_name(".mine.toml.econ-answers")
        browser.wait(lambda: kept.exists() and b"26000" in kept.read_bytes())
        browser.run("sessionStorage.removeItem('desk-answers'); location.reload()")
        browser.wait_for_text("answers of an earlier start", "#part-questions")
        top = '#part-questions [data-key="fish.top"] input'
        browser.wait(lambda: browser.one(top).get_attribute("value") == "9,300")
        browser.button("Go on with them").click()
        # A thousand to some and a million to others is asked.
        typed(browser, "limits.authority", "1.2m")
        browser.button("1200000").click()
        asked = '#part-questions [data-key="limits.authority"] input'
        browser.wait(lambda: browser.one(asked).get_attribute("value") == "1,200,000")
        typed(browser, "limits.authority", "")
        # Rig first, in whatever order they are answered; two answers that cannot both be are told
        # at their field before anything is made.
        assert browser.text('#part-questions [data-key="rates"]').index("rig") < browser.text(
            '#part-questions [data-key="rates"]'
        ).index("services")
        typed(browser, "fish.top", "9900")
        browser.wait_for_text("write a top above the bottom", '[data-key="fish.top"]')
        browser.button("Make the file").click()
        browser.wait_for_text("No run is ticked in question 10", "#part-questions")
        browser.button("Make it without a run").click()
        browser.wait_for_text("1 answer is missing or cannot be used", "#part-questions")
        typed(browser, "fish.top", "9300")
        browser.wait(lambda: not browser.text('#part-questions [data-key="fish.top"] .wrong'))
        browser.run(
            "const s = document.querySelector('[data-key=\"fish.mechanism\"] select');"
            "s.value = 'parted'; s.dispatchEvent(new Event('change'));"
            "const t = document.querySelector('[data-key=\"fish.top_condition\"] select');"
            "t.value = 'clean'; t.dispatchEvent(new Event('change'));"
        )
        browser.button("Which runs suit?").click()
        browser.one('[data-run="overshot"]').click()
        browser.one('[data-run="dress_top"]').click()  # what only prepares is no end
        browser.wait_for_text("brings no fish by itself: it costs more", "#part-questions")
        browser.one('[data-run="dress_top"]').click()
        browser.one('[data-run="wash_then_catch"]').click()
        browser.wait_for_text("run 2", ".offered")
        assert "costs more than stopping now unless" not in browser.text("#part-questions")
        # A list of other answers is marked as old, and cannot be ticked.
        typed(browser, "well.mud_weight", "9.6 ppg")
        browser.wait_for_text("this list is of those before", "#part-questions")
        assert not any(each.is_enabled() for each in browser.all(".offered input"))
        browser.button("Which runs suit now?").click()
        browser.wait(lambda: browser.all(".offered input:enabled"))
        browser.wait_for_text("run 2", ".offered")
        # What cannot be read is not left out unseen.
        typed(browser, "well.inclination", "abc")
        browser.button("Which runs suit now?").click()
        browser.wait_for_text('asked. Inclination at the fish: "abc" cannot be read', "#work")
        browser.button("Make the file").click()
        browser.wait_for_text('made. Inclination at the fish: "abc" cannot be read', "#work")
        typed(browser, "well.inclination", "3")
        browser.button("Make the file").click()
        browser.wait_for_text("planning values that nobody has looked at", "#part-form")
        assert not path.exists()
        assert not kept.exists()
        browser.wait_for_text("Worked out from what is shown", "#call")
        # The questions follow the form, and change the job alone in what is answered otherwise.
        section(browser, "rates")
        typed(browser, "rates.rig", "27000")
        section(browser, "partner")
        for number, (name, share) in enumerate((("North", "62.5"), ("South", "37.5 %")), 1):
            browser.button("Add a partner").click()
            cell = f'#section-partner [data-place="{number}"]'
            browser.one(f'{cell}[data-column="0"]').send_keys(Keys.CONTROL, "a")
            browser.one(f'{cell}[data-column="0"]').send_keys(name, Keys.TAB)
            browser.one(f'{cell}[data-column="1"]').send_keys(Keys.CONTROL, "a")
            browser.one(f'{cell}[data-column="1"]').send_keys(share, Keys.TAB)
        browser.wait(lambda: "put right" not in browser.text("#standing"))
        assert browser.one(f'{cell}[data-column="1"]').get_attribute("value") == "37.5 %"
        browser.driver.back()
        rig = (
            "return document.querySelector('#part-questions [data-key=\"rates.rig\"] input').value"
        )
        browser.wait(lambda: browser.run(rig) == "27,000")
        assert browser.run("return location.href") == f"{desk.origin}/"
        typed(browser, "rates.rig", "26000")
        # A run can be taken out where it was put in.
        browser.button("Which runs suit?").click()
        browser.button("Take run 2 out of the job").click()
        browser.wait(lambda: "run 2 of the job" not in browser.text(".offered"))
        browser.button("Take back").click()
        browser.wait_for_text("run 2 of the job", ".offered")
        browser.button("Put the answers into the job").click()
        browser.wait_for_text("planning values that nobody has looked at", "#part-form")
        saved(browser, path)
        scenario = load(path)
        assert [each.interest for each in scenario.partner] == [0.625, 0.375]
        assert [run.kind for run in scenario.run] == ["overshot", "wash_then_catch"]
        assert scenario.rates == {"rig": 26000, "services": 21000}
        assert scenario.well.inclination == 3
        assert (scenario.well.hole_diameter, scenario.well.mud_weight) == (8.5, 9.6)
        # A hazard that nobody told of is shown as such, not as a no.
        section(browser, "hazards")
        chosen = "return document.querySelector('#part-form [data-key=\"fish.explosives\"] select')"
        assert browser.run(f"{chosen}.selectedOptions[0].text") == "Not told, counted as no"
        # One click from a planning value to its field; kept or replaced, it is marked no more.
        text = path.read_text(encoding="utf-8")
        browser.one(".planning > summary").click()
        # ... and in order of money.
        browser.wait_for_text("move the expected cost most", ".planning")
        moves = browser.run(
            "return [...document.querySelectorAll('.planning tbody tr')]"
            ".map((row) => row.cells[2].textContent)"
        )
        amounts = [float(each.replace(" thousand", "e3")) for each in moves if each]
        assert len(amounts) > 5
        assert amounts == sorted(amounts, reverse=True)
        assert moves[: len(amounts)] == [each for each in moves if each]
        browser.run(
            "[...document.querySelectorAll('.planning button.link')]"
            ".find((each) => each.textContent.includes('Wait on cement')).click()"
        )
        browser.wait(
            lambda: (
                browser.run("return document.activeElement.closest('[data-key]')?.dataset.key")
                == "fallback.1.woc"
            )
        )
        browser.button("Keep the planning value of Wait on cement").click()
        browser.wait(lambda: "Not saved" in browser.text("#standing"))
        saved(browser, path)
        assert text.count("REPLACE") == path.read_text(encoding="utf-8").count("REPLACE") + 1
        assert json.loads(browser.run("return JSON.stringify(window.hit ?? null)")) is None
    finally:
        desk.close()


NUMBERS = {
    # typed: what it is, in a browser that writes 1,250.5
    "1250": {"value": 1250},
    "1,250.5": {"value": 1250.5},
    "1 250": {"value": 1250},
    "1'250": {"value": 1250},
    "1.250,5": {"value": 1250.5},
    "12,5": {"value": 12.5},
    "1,250": {"value": 1250},
    "1,25": {"value": 1.25},
    "1,250,000": {"value": 1250000},
    "-3e2": {"value": -300},
    ".5": {"value": 0.5},
    "5 %": {"value": 0.05},
    "8 1/2": {"value": 8.5},
    "12-1/4": {"value": 12.25},
    "9\u215d": {"value": 9.625},
    "5/8": {"value": 0.625},
    "20/34": {"wrong": True},
    "": {},
    "12 h": {"wrong": True},
    "1,2,3": {"wrong": True},
    "0x10": {"wrong": True},
    "Infinity": {"wrong": True},
}


def test_numbers_as_people_type_them_and_words_that_mean_harm(
    browser: Window, tmp_path: Path
) -> None:
    path = tmp_path / "job.toml"
    shutil.copy(ROOT / "scenarios" / "d_rented_tools.toml", path)
    desk = opened(browser, path)
    try:
        found = browser.driver.execute_async_script(
            "const [texts, done] = arguments; import('/assets/numbers.js').then((it) => done({"
            "read: texts.map((each) => it.read(each)), commas: [['1,250', '3'], ['1,250', '12,5'],"
            " ['1,250,000', '1,250'], ['7', '8.5']].map((each) => it.commaOf(each)),"
            " decimal: it.read('1,250', { comma: 'decimal' }), range: it.readAmount('20/24/34'),"
            " size: it.readAmount('12 1/4 in', { unit: 'in' }),"
            " metres: it.read('9 m', { unit: 'ft' }),"
            " rows: it.rowsOf('a\\t\"b\\nc\"\\r\\n\\r\\nd\\t\\t') }))",
            list(NUMBERS),
        )
        assert dict(zip(NUMBERS, found["read"], strict=True)) == NUMBERS
        assert found["commas"] == ["ask", "decimal", "thousands", "decimal"]
        assert found["decimal"] == {"value": 1.25}
        assert found["size"] == {"value": 12.25}
        assert found["metres"] == {"wrong": True}
        assert found["range"] == {"value": {"low": 20, "likely": 24, "high": 34}}
        assert found["rows"] == [["a", "b\nc"], ["d", "", ""]]
        # Words that mean harm, in every text and name of the file: they stay words.
        bad = "<img src=x onerror=alert(1)><script>alert(1)</script>"
        state = json.loads(
            browser.driver.execute_async_script(
                "const done = arguments[0]; import('/assets/link.js').then(async (it) =>"
                " done(JSON.stringify(await it.asked('GET', '/api/job'))))"
            )
        )
        changes = [
            {"op": "set", "key": [str(n) for n in each], "value": bad}
            for each in texts(state["values"])
        ]
        changes.append({"op": "rename", "key": "rates.rig", "to": bad})
        browser.run("window.alert = () => { window.hit = true; }")
        browser.driver.execute_async_script(
            "const [changes, base, done] = arguments; import('/assets/desk.js').then(({ desk }) =>"
            " desk.change(changes).then(() => done()))",
            changes,
            state["hash"],
        )
        part(browser, "The job")
        browser.run("document.querySelectorAll('#work details').forEach((d) => { d.open = true; })")
        browser.wait(
            lambda: (
                browser.run(
                    "return [...document.querySelectorAll('#part-form input')]"
                    ".filter((each) => each.value.includes('<img')).length"
                )
                > 20
            )
        )
        assert not browser.all("#work img, #work script, #call img, #call script")
        assert not browser.run("return window.hit")
    finally:
        desk.close()


def texts(values: object, path: tuple[object, ...] = ()) -> list[tuple[object, ...]]:
    """Paths of the texts of a file, items from 1."""
    if isinstance(values, dict) and set(values) != {"date"}:
        return [each for name, it in values.items() for each in texts(it, (*path, name))]
    if isinstance(values, list):
        return [each for n, it in enumerate(values, 1) for each in texts(it, (*path, n))]
    return [path] if isinstance(values, str) and isinstance(path[-1], str) else []


@pytest.mark.parametrize(("wide", "high"), [(1280, 900), (360, 740)])
def test_nothing_is_wider_than_the_window(
    browser: Window, tmp_path: Path, wide: int, high: int
) -> None:
    path = tmp_path / "job.toml"
    text = (ROOT / "scenarios" / "e_stuck_attached.toml").read_text(encoding="utf-8")
    # few draws: its answer is not looked at
    path.write_text(text.replace("[draws]\n", "[draws]\nn = 16\n"), encoding="utf-8")
    desk = opened(browser, path)
    try:
        browser.size(wide, high)
        for name in ("First questions", "The job"):
            part(browser, name)
            browser.run(
                "document.querySelectorAll('#work details').forEach((d) => { d.open = true; })"
            )
            browser.wait(lambda: browser.all("#work input"))
            assert browser.run("return document.documentElement.scrollWidth") <= wide
        # Every control has a name for a screen reader.
        nameless = browser.run(
            "return [...document.querySelectorAll('#work input, #work select, #work textarea')]"
            ".filter((each) => !each.getAttribute('aria-label') && !each.labels?.length).length"
        )
        assert nameless == 0
    finally:
        browser.size(1280, 900)
        desk.close()
