"""The desk as a whole: how soon it is there, how soon it answers, how large it is, and whether it
answers as the command does.

    python tests/benchmarks/desk.py [EDITS]
    python tests/benchmarks/desk.py page [EDITS]
    python tests/benchmarks/desk.py papers

A *floor* is a process that imports NumPy, scipy.special, pydantic and click and ends. An edit is a
number of scenario A drawn anew, or a range in its place, by a fixed seed. After every edit the full
answer is held against `econ.answer` of the file as it is then saved, and every other line of the
file against what it was. An edit that makes the file faulty is taken back, and another one drawn.

With `page` the desk is open in headless Chromium, and a field of its form is filled in: the times
are those of the page, from the event of the field to the frame in which the figures are shown.
With `papers` a change is made while each paper is: how long it waits for its answer then.
"""

from __future__ import annotations

import random
import re
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from statistics import median
from typing import Any

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from desk.running import Desk  # noqa: E402

import econ  # noqa: E402
from econ.reports.tables import document  # noqa: E402

FLOOR = "import numpy, scipy.special, pydantic, click"
SCENARIO = ROOT / "scenarios" / "a_land_twist_off.toml"
SECTIONS = ("rates", "recovery", "fallback", "fishing", "run")
RANGES = {"low", "mean", "median", "p10", "values"}
FIXED = {"plugs", "weight", "part_length", "string_length", "odds", "kickoff_floor"}


def floor() -> float:
    """Seconds of the floor."""
    begun = time.monotonic()
    subprocess.run([sys.executable, "-c", FLOOR], check=True)
    return time.monotonic() - begun


def numbers(value: Any, key: str = "") -> Iterator[tuple[str, float]]:
    """Key paths of plain numbers that may be drawn anew."""
    if isinstance(value, dict) and not RANGES & set(value):
        for name, inner in value.items():
            if (key or name in SECTIONS) and name not in FIXED:
                yield from numbers(inner, f"{key}.{name}" if key else name)
    elif isinstance(value, list):
        for place, inner in enumerate(value, start=1):
            yield from numbers(inner, f"{key}.{place}")
    elif isinstance(value, float | int) and not isinstance(value, bool) and value > 0:
        yield key, float(value)


def size(pid: int) -> float:
    """Resident memory of a process [MB]."""
    found = re.search(r"VmRSS:\s+(\d+)", Path(f"/proc/{pid}/status").read_text())
    return float(found[1]) / 1000 if found else 0.0


def main(edits: int) -> None:
    """Print the figures."""
    folder = Path(tempfile.mkdtemp())
    path = folder / "job.toml"
    shutil.copy(SCENARIO, path)
    least = min(floor() for _ in range(3))
    begun = time.monotonic()
    desk = Desk(path)
    try:
        assert desk.ask("GET", "/").status == 200
        print(f"first page: {(time.monotonic() - begun) / least:.2f} floors of {least:.2f} s")
        desk.enter()
        follow(desk, path, edits)
    finally:
        desk.close()
        shutil.rmtree(folder)


def drawn_anew(drawn: random.Random, old: float) -> float:
    """A number near another, with four digits."""
    return float(f"{old * drawn.uniform(0.85, 1.15):.4g}")


def follow(desk: Desk, path: Path, edits: int) -> None:
    """Edit after edit, each answered and held against the file."""
    drawn = random.Random(18)
    job = desk.get("/api/job")
    quick, full, faulty = list[float](), list[float](), 0
    with desk.stream() as stream:
        stream.answer(job["input"])
        while len(full) < edits:
            key, old = drawn.choice(list(numbers(job["values"])))
            new: Any = drawn_anew(drawn, old)
            if drawn.random() < 0.3 and new > 1:
                new = {"low": new * 0.9, "likely": new, "high": new * 1.2}
            before = path.read_bytes()
            begun = time.monotonic()
            changes = [{"op": "set", "key": key, "value": new}]
            job = desk.post("/api/changes", {"base": job["hash"], "changes": changes})
            if job["faults"]:
                job = desk.post("/api/undo", {"base": job["hash"]})
                faulty += 1
                continue
            first, whole = stream.answer(job["input"], "quick"), stream.answer(job["input"])
            quick.append(first["at"] - begun)
            full.append(whole["at"] - begun)
            job = desk.post("/api/save", {"base": job["hash"]})
            after = path.read_bytes()
            lines = list(zip(before.splitlines(), after.splitlines(), strict=True))
            assert sum(one != other for one, other in lines) <= 1, key
            shown = whole["answer"]["document"]
            assert shown == document(econ.answer(econ.load(path))), key
        server = desk.process.pid
        worker = max(size(pid) for pid in workers(desk))
        print(f"server {size(server):.0f} MB, worker {worker:.0f} MB after {len(full)} answers")
    told("first figures after a change", quick)
    told("full answer after a change", full)
    print(f"{len(full)} edits answered, each as the saved file is; {faulty} others were faulty")


def workers(desk: Desk) -> list[int]:
    """Processes of a desk beside its server."""
    listed = subprocess.run(
        ["ps", "-o", "pid=", "--ppid", str(desk.process.pid)],
        capture_output=True,
        text=True,
        check=True,
    )
    return [int(pid) for pid in listed.stdout.split() if Path(f"/proc/{pid}").exists()]


def told(what: str, seconds: list[float]) -> None:
    """Print the median, the ninth tenth and the most of some times."""
    ninth = sorted(seconds)[int(0.9 * (len(seconds) - 1))]
    print(f"{what}: median {median(seconds):.2f} s, P90 {ninth:.2f} s, most {max(seconds):.2f} s")


FILLED = """
const [input, text, done] = arguments;
const state = document.querySelector("#call .state");
let begun = 0, left = false, quick = null;
const frame = () => new Promise((drawn) => requestAnimationFrame(drawn));
const shown = async (tell) => { await frame(); await frame(); tell(performance.now() - begun); };
const watch = new MutationObserver(() => {
  const words = state.textContent;
  if (words.startsWith("First figures")) {
    left = true;
    if (quick === null) { quick = 0; shown((ms) => { quick = ms; }); }
  } else if (!words.startsWith("Worked out from what is shown")) {
    left = true;
    if (words.startsWith("The file cannot")) { watch.disconnect(); done(null); }
  } else if (left) {
    watch.disconnect();
    shown((ms) => done([quick, ms]));
  }
});
const all = {subtree: true, childList: true, characterData: true};
watch.observe(document.querySelector("#call"), all);
input.focus();
input.value = text;
input.dispatchEvent(new Event("input", {bubbles: true}));
begun = performance.now();
input.dispatchEvent(new Event("change", {bubbles: true}));
"""
SINGLE = (
    "return [...document.querySelectorAll('#part-form [data-key] .slots.n1 input')]"
    ".filter((each) => each.value && each.closest('details.section').open)"
    ".map((each) => each.closest('[data-key]').dataset.key)"
)


def in_page(edits: int) -> None:
    """Print the times of a page, in Chromium."""
    from desk.browser import window

    drawn = random.Random(18)
    folder = Path(tempfile.mkdtemp())
    shutil.copy(SCENARIO, folder / "job.toml")
    desk = Desk(folder / "job.toml")
    try:
        with window("--lang=en-US") as page:
            page.size(1280, 900)
            page.open(desk.way_in.as_uri())
            page.wait_for_text("Worked out from")
            page.button("The job", "nav").click()
            page.wait(lambda: page.all("#section-rates"))
            for section in ("rates", "recovery", "fallback", "fishing"):
                page.run(f"document.querySelector('#section-{section}').open = true")
            keys = page.wait(lambda: page.run(SINGLE))
            quick, full, faulty = list[float](), list[float](), 0
            while len(full) < edits:
                key = drawn.choice(keys)
                field = page.all(f'#part-form [data-key="{key}"] .slots.n1 input')[0]
                old = float(str(field.get_attribute("value")).replace(",", ""))
                times = page.driver.execute_async_script(FILLED, field, str(drawn_anew(drawn, old)))
                if times is None:
                    faulty += 1
                    page.button("Take back").click()
                    page.wait_for_text("Worked out from")
                    continue
                quick.append((times[0] or times[1]) / 1000)
                full.append(times[1] / 1000)
    finally:
        desk.close()
        shutil.rmtree(folder)
    told("first figures on screen after a field is filled in", quick)
    told("full answer on screen", full)
    print(f"{len(full)} edits; {faulty} others were faulty")


def while_made() -> None:
    """Print how long answers take while papers are made."""
    from econ.desk.papers import PAPERS

    folder = Path(tempfile.mkdtemp())
    shutil.copy(SCENARIO, folder / "job.toml")
    desk = Desk(folder / "job.toml")
    try:
        desk.enter()
        with desk.stream() as stream:
            job = desk.get("/api/job")
            stream.answer(job["input"])
            for number, what in enumerate(PAPERS):
                made = threading.Thread(target=desk.post, args=("/api/out", {"what": what}))
                begun = time.monotonic()
                made.start()
                time.sleep(0.3)
                changed = time.monotonic()
                change = {"op": "set", "key": "rates.rig", "value": 27_001 + number}
                job = desk.post("/api/changes", {"base": job["hash"], "changes": [change]})
                first, whole = stream.answer(job["input"], "quick"), stream.answer(job["input"])
                made.join()
                waits = [event["at"] - changed for event in (first, whole)]
                print(f"{what}: {time.monotonic() - begun:.1f} s; meanwhile a change had", end=" ")
                print(f"first figures in {waits[0]:.2f} s, its full answer in {waits[1]:.2f} s")
                stream.events.clear()
                job = desk.post("/api/undo", {"base": job["hash"]})
                stream.answer(job["input"])
            sizes = sorted(f"{size(pid):.0f}" for pid in workers(desk))
            print(f"server {size(desk.process.pid):.0f} MB, workers {', '.join(sizes)} MB")
    finally:
        desk.close()
        shutil.rmtree(folder)


if __name__ == "__main__":
    how, *rest = sys.argv[1:] or ["200"]
    if how == "papers":
        while_made()
    elif how == "page":
        in_page(int(rest[0]) if rest else 50)
    else:
        main(int(how))
