"""The desk as a person has it, in the system's own Chromium."""

from __future__ import annotations

import json
import re
import shutil
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
from cli.command import ok
from selenium.webdriver.common.keys import Keys

from .browser import Window, window
from .running import ROOT, Desk

POINT_A = ROOT / "scenarios" / "point" / "a_land_twist_off.toml"
PARTS = ("First questions", "The job", "Mornings", "Orders", "Scales", "Past jobs", "Papers")
DONE = "Worked out from the file"
NAMED = {  # roles of what a screen reader must have a name for
    *("button", "link", "textbox", "combobox", "checkbox", "radio", "slider", "spinbutton"),
    *("DisclosureTriangle", "DateTime", "Date", "image", "table", "dialog", "navigation"),
}
# What a person could put into any field, and must find again as words.
HOSTILE = (
    "<img src=x onerror=\"document.title='lost'\"><script>document.title='lost'</script>"
    "'\"`${1}&lt;\u202e\u2066 =1+1"
)


# A page whose stream of events can be cut, as a network does it: window.cut().
CUT = """
const asked = window.fetch;
window.fetch = (path, given) => {
  if (path !== '/api/stream') return asked(path, given);
  const stop = new AbortController();
  given.signal.addEventListener('abort', () => stop.abort());
  window.cut = () => stop.abort();
  return asked(path, { ...given, signal: stop.signal });
};
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("job")
    shutil.copy(POINT_A, made / "job.toml")
    return made


@pytest.fixture(scope="module")
def opened(folder: Path) -> Iterator[Desk]:
    made = Desk(folder / "job.toml")
    yield made
    made.close()


@pytest.fixture(scope="module")
def page(opened: Desk) -> Iterator[Window]:
    with window(traffic=True) as made:
        made.size(1280, 900)
        made.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": CUT})
        made.open(opened.way_in.as_uri())
        made.wait_for_text(DONE)
        opened.key = made.run("return sessionStorage.getItem('desk-key')")
        yield made


def part(page: Window, words: str) -> None:
    page.button(words, "nav").click()


def test_from_the_way_in_to_the_answer(page: Window, opened: Desk, folder: Path) -> None:
    page.wait_for_text(DONE)
    assert page.text("#file") == "job.toml"
    assert not opened.way_in.exists()
    assert page.run("return location.href") == f"{opened.origin}/"  # no token is left
    words = page.text("#call")
    # The first screen is that of `econ answer`, but for capitals and the width of its lines.
    for line in ok("answer", folder / "job.toml").splitlines()[2:8]:
        assert line.split(": ")[-1].split(". ")[-1].strip() in words.replace("\n", " "), line
    assert page.all("#call svg .best")
    # The verdict is by the plan, and the curve says that it is of the runs in the order listed.
    assert "Cost by limit, runs in the order listed" in words
    assert "The verdict is by the plan, which takes the runs in any order" in words
    assert page.all("#call svg .plan")
    assert "Odds of the next run in the order listed" in words
    assert "counted against the best limit in the order listed" in words
    assert "skipped there because" in words


def test_a_reload_keeps_the_window(page: Window) -> None:
    page.driver.refresh()
    page.wait_for_text(DONE)


def test_a_window_that_slept_shows_what_stands_now(page: Window, opened: Desk) -> None:
    page.driver.execute_cdp_cmd("Page.setWebLifecycleState", {"state": "frozen"})
    job = opened.get("/api/job")
    change = {"op": "set", "key": "rates.rig", "value": 30_123}
    job = opened.post("/api/changes", {"base": job["hash"], "changes": [change]})
    page.driver.execute_cdp_cmd("Page.setWebLifecycleState", {"state": "active"})
    page.wait_for_text("Worked out from what is shown")
    opened.post("/api/undo", {"base": job["hash"]})
    page.wait_for_text(DONE)


def test_a_change_elsewhere_is_seen_and_an_old_answer_is_marked(page: Window, opened: Desk) -> None:
    # Every state of the panel, as it comes.
    page.run(
        "window.seen = []; new MutationObserver(() => window.seen.push("
        "document.querySelector('#call .state').textContent + '|' +"
        "document.querySelector('#call .body').classList.contains('old') + '|' +"
        "document.querySelector('#call .verdict').innerText.slice(0, 30)))"
        ".observe(document.querySelector('#call'), {subtree: true, childList: true, "
        "characterData: true, attributes: true});"
    )
    job = opened.get("/api/job")
    change = {"op": "set", "key": "fishing.workable", "value": 0.3}
    page.run("window.cut()")  # what happens meanwhile is told when the stream is back
    opened.post("/api/changes", {"base": job["hash"], "changes": [change]})
    page.wait_for_text("Worked out from what is shown")
    assert "at most 1 more run" in page.text("#call .verdict")
    seen = page.run("return window.seen")
    states = [each.split("|") for each in seen]
    for words, old, verdict in states:
        if verdict.startswith("Fish on: at most 3"):
            assert (
                old == "true" or "Below is the answer to an earlier" in words or words == DONE + "."
            )
    assert any(words.startswith("First figures") for words, _, _ in states), states
    assert ["The desk does not answer now", "true"] in [
        [words.partition(",")[0], old] for words, old, _ in states
    ]
    page.wait_for_text("Not saved yet", "#standing")
    page.button("Take back").click()
    page.wait_for_text(DONE)
    page.wait_for_text("Saved", "#standing")


def test_four_mornings(page: Window, opened: Desk, folder: Path) -> None:
    part(page, "Mornings")
    log = folder / "job_runs.csv"
    # An end that is still to come by the clock of this machine is asked about.
    end = "const each = document.querySelector('.entry [name=end]'); each.value = arguments[0];"
    page.wait(lambda: page.all(".entry [name=end]"))
    page.run(end + "each.dispatchEvent(new Event('change'))", "2998-01-01T06:00")
    page.wait_for_text("still to come", ".entry")
    nights = [
        ("1", "2026-03-14T06:00", "2026-03-15T10:00", "nothing"),
        ("2", "2026-03-15T12:00", "2026-03-17T10:00", "part"),
        ("3", "2026-03-17T12:00", "2026-03-18T20:00", "unfinished"),
        ("3", "2026-03-18T21:00", "2026-03-20T04:00", "recovered"),
    ]
    for number, (run, start, end, outcome) in enumerate(nights, start=1):
        page.wait_for_text(DONE)  # and the run that the orders name is chosen, if it is not over
        if number == 4:
            assert page.run("return document.querySelector('.entry [name=run]').value") == "3"
        page.wait(lambda: page.run("return document.querySelector('.entry [name=end]') !== null"))
        page.run(
            "for (const [name, value] of Object.entries(arguments[0])) {"
            " const each = document.querySelector(`.entry [name=${name}]`); each.value = value;"
            " each.dispatchEvent(new Event('change', {bubbles: true})); }",
            {"run": run, "start": start, "end": end, "outcome": outcome, "cost": "91,000.5"},
        )
        page.button("Enter it").click()
        page.wait(lambda number=number: len(opened.get("/api/job")["log"]["rows"]) == number)
        page.wait_for_text("ADDED TO job_runs.csv", "#part-mornings")
    assert "A part of it out" in page.text("#part-mornings table")
    assert "91000.5" in log.read_text()  # as a file has it, whatever the browser shows
    page.wait_for_text("The fish is out", "#call")
    page.driver.execute_script("window.confirm = () => true")
    page.button("Take the last one back").click()
    page.wait_for_text("TAKEN BACK", "#part-mornings")
    page.wait_for_text(DONE)
    told = json.loads(ok("answer", folder / "job.toml", "--log", log, "--json"))
    assert f"at most {told['answer']['runs']} more run" in page.text("#call .verdict")
    assert "Spent by the log: 273,002" in page.text("#part-mornings")  # rounded for the screen
    # What cannot have been is refused beside the form, and the log is as it was.
    before = log.read_bytes()
    page.run("document.querySelector('.entry [name=end]').value = '2026-03-01T00:00'")
    page.run("document.querySelector('.entry [name=outcome]').value = 'nothing'")
    page.button("Enter it").click()
    page.wait_for_text("The log was left as it is", "#part-mornings")
    assert log.read_bytes() == before


def test_papers_are_downloaded_to_the_byte(page: Window, folder: Path) -> None:
    part(page, "Papers")
    log = folder / "job_runs.csv"
    ok("memo", folder / "job.toml", "--log", log, "--out", folder / "memo.pdf")
    page.button("Download: Memo, to print").click()
    assert page.downloaded("job_memo.pdf") == (folder / "memo.pdf").read_bytes()
    (page.downloads / "job_memo.pdf").unlink()  # a download that did not come is had again
    page.one('.papers a[download="job_memo.pdf"]').click()
    assert page.downloaded("job_memo.pdf") == (folder / "memo.pdf").read_bytes()
    page.button("Download: The log of runs").click()
    assert page.downloaded("job_runs.csv") == (folder / "job_runs.csv").read_bytes()


def test_the_page_with_sliders_works_in_its_sandbox(page: Window, folder: Path) -> None:
    page.button("Open: A page with sliders, that needs no program").click()
    link = page.one(".papers a[target]")
    desk_window = page.driver.current_window_handle
    link.click()
    page.wait(lambda: len(page.driver.window_handles) == 2)
    page.driver.switch_to.window(page.driver.window_handles[-1])
    page.wait(lambda: page.all("input[type=range]"))
    before = page.text("body")
    page.run(
        "const each = document.querySelector('input[type=range]'); each.value = each.max;"
        "each.dispatchEvent(new Event('input', {bubbles: true}))"
    )
    page.wait(lambda: page.text("body") != before)
    # Nothing of the desk can be had from there.
    assert page.run("return window.origin") == "null"
    page.driver.close()
    page.driver.switch_to.window(desk_window)


def test_everything_is_reached_by_keyboard_and_named(page: Window) -> None:
    for words in PARTS:
        part(page, words)
        page.run("for (const each of document.querySelectorAll('#work details')) each.open = true")
        tree = page.driver.execute_cdp_cmd("Accessibility.getFullAXTree", {})["nodes"]
        found = [node for node in tree if not node["ignored"] and node["role"]["value"] in NAMED]
        unnamed = [node for node in found if not node.get("name", {}).get("value", "").strip()]
        assert len(found) > 10
        assert unnamed == []
    page.run("document.activeElement.blur()")
    wanted, seen = {"Mornings", "Papers", "Download"}, set()
    for _ in range(60):
        page.driver.switch_to.active_element.send_keys(Keys.TAB)
        seen.add(page.run("return document.activeElement.innerText"))
        if seen >= wanted:
            break
    assert seen >= wanted


def test_it_fits_a_phone_and_twice_the_size(page: Window) -> None:
    for wide in (360, 640):
        page.size(wide, 740)
        for words in PARTS:
            part(page, words)
            assert page.run("return document.documentElement.scrollWidth") <= wide, (wide, words)
            head = page.run("return document.querySelector('.top').getBoundingClientRect().height")
            assert head <= 90
        part(page, "Mornings")  # orders are laid out to the width, and not broken twice
        assert page.one(".orders .narrow .verdict").text.startswith("Fish on")
        assert not any(sheet.is_displayed() for sheet in page.all(".orders pre"))
    page.size(1280, 900)


def test_hostile_words_stay_words(page: Window, opened: Desk, folder: Path) -> None:
    text = (folder / "job.toml").read_text(encoding="utf-8")
    quoted = json.dumps(HOSTILE, ensure_ascii=True)
    text = re.sub(
        r'^(well|event|name) = ".*?"', lambda found: f"{found[1]} = {quoted}", text, flags=re.M
    )
    (folder / "job.toml").write_text(text, encoding="utf-8")
    page.wait(lambda: opened.get("/api/job")["text"] == text)
    page.wait_for_text("<img src=x", "#call")
    page.wait_for_text(DONE)
    for words in PARTS:
        part(page, words)
    part(page, "Orders")
    page.button("Work the plan out").click()
    page.wait_for_text("<img src=x", "#part-orders")
    assert page.run("return document.title") == "job.toml - the desk"
    assert (
        page.run("return document.querySelectorAll('img, script:not([type=module])').length") == 0
    )


def test_nothing_went_out_and_nothing_was_complained_of(page: Window, opened: Desk) -> None:
    asked = [
        json.loads(entry["message"])["message"]["params"]["request"]["url"]
        for entry in page.driver.get_log("performance")
        if '"Network.requestWillBeSent"' in entry["message"]
    ]
    assert len(asked) > 20
    ours = (f"{opened.origin}/", opened.way_in.as_uri(), "data:", "chrome://")
    elsewhere = [url for url in asked if not url.startswith(ours)]
    assert elsewhere == []
    # Refusals that were meant are told in the console as well.
    meant = ("/api/log",)
    said = [each for each in page.complaints() if not any(word in each for word in meant)]
    assert said == []


EVIL = """
const done = arguments[arguments.length - 1], desk = arguments[0], found = [];
const tried = async (name, work) => {
  try { found.push([name, await work()]); } catch (error) { found.push([name, 'refused']); }
};
(async () => {
  const kinds = [{}, {mode: 'no-cors'}, {mode: 'no-cors', credentials: 'include'}];
  for (const [n, more] of kinds.entries()) {
    await tried(`read ${n}`, async () => (await fetch(desk + '/api/job', more)).text());
    await tried(`write ${n}`, async () => (await fetch(desk + '/api/close', {
      method: 'POST', body: '{}', headers: n ? {} : {'Content-Type': 'application/json'}, ...more,
    })).text());
  }
  const loads = (tag, set) => new Promise((over, gone) => {
    const each = document.createElement(tag);
    each.onload = () => over('loaded'); each.onerror = () => gone(new Error());
    set(each); document.body.append(each); setTimeout(gone, 3000);
  });
  await tried('script', () => loads('script', (each) => { each.src = desk + '/assets/desk.js'; }));
  await tried('picture', () => loads('img', (each) => { each.src = desk + '/assets/icon.svg'; }));
  await tried('style', () => loads('link', (each) => {
    each.rel = 'stylesheet'; each.href = desk + '/assets/desk.css';
  }));
  done(found);
})();
"""


@pytest.fixture
def evil() -> Iterator[int]:
    """The port of another site on this machine, whose every page is empty."""

    class Empty(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            body = b"<!DOCTYPE html><title>evil</title><body>evil</body>"
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None:
            pass

    with ThreadingHTTPServer(("127.0.0.1", 0), Empty) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield server.server_address[1]
        server.shutdown()
        thread.join()


def test_nothing_is_typed_into_the_void(page: Window, opened: Desk) -> None:
    part(page, "The job")
    page.run("document.querySelector('#section-rates').open = true")
    field = page.one('#part-form [data-key="rates.rig"] input')
    network = {"offline": True, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1}
    page.driver.execute_cdp_cmd("Network.enable", {})
    page.driver.execute_cdp_cmd("Network.emulateNetworkConditions", network)
    # A field that is filled in the very moment is kept, and nothing more can be.
    field.send_keys(Keys.CONTROL, "a")
    field.send_keys("29500", Keys.TAB)
    page.wait_for_text("The desk does not answer", "#gone[open]")
    page.wait_for_text("rates.rig 29500", "#gone[open]")
    page.driver.switch_to.active_element.send_keys("5", Keys.ESCAPE, Keys.TAB, "5")
    page.wait(lambda: page.all("#gone[open]"))
    middle = "document.elementFromPoint(innerWidth / 2, innerHeight / 2)"
    assert page.run(f"return {middle}.closest('#gone') !== null")
    page.driver.execute_cdp_cmd("Network.emulateNetworkConditions", {**network, "offline": False})
    page.wait(lambda: opened.get("/api/job")["values"]["rates"]["rig"] == 29500)
    page.wait(lambda: not page.all("#gone[open]"))
    page.wait_for_text("Worked out from what is shown")
    page.button("Take back").click()
    page.wait_for_text("Saved", "#standing")
    page.complaints()


def test_another_site_reaches_nothing(page: Window, opened: Desk, evil: int) -> None:
    before = opened.get("/api/job")["hash"]
    here = page.driver.current_window_handle
    page.driver.switch_to.new_window("tab")
    for site in (f"http://evil.example:{evil}/", f"http://127.0.0.1:{evil}/"):
        page.open(site)
        assert page.text() == "evil"
        for desk in (opened.origin, f"http://evil.example:{opened.port}"):
            found = dict(page.driver.execute_async_script(EVIL, desk))
            assert len(found) == 9
            # Of what is asked without CORS a page sees nothing at all, not even that it failed.
            assert set(found.values()) <= {"refused", ""}, (site, desk, found)
    # A name that leads here by now, as after a rebinding.
    page.open(f"http://evil.example:{opened.port}/")
    assert "not the address of this desk" in page.text()
    page.driver.close()
    page.driver.switch_to.window(here)
    assert opened.get("/api/job")["hash"] == before
    assert opened.process.poll() is None


def test_the_desk_is_closed_from_its_window(page: Window, opened: Desk) -> None:
    page.button("More").click()
    page.button("Close the desk").click()
    page.wait_for_text("The desk is closed")
    assert opened.process.wait(timeout=30) == 0
