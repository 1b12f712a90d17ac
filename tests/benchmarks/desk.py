"""The desk as a whole: how soon it is there, how soon it answers, how large it is, and whether it
answers as the command does.

    python tests/benchmarks/desk.py [EDITS]

A *floor* is a process that imports NumPy, scipy.special, pydantic and click and ends. An edit is a
number of scenario A drawn anew, or a range in its place, by a fixed seed. After every edit the full
answer is held against `econ.answer` of the file as it is then saved, and every other line of the
file against what it was.
"""

from __future__ import annotations

import random
import re
import shutil
import subprocess
import sys
import tempfile
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


def follow(desk: Desk, path: Path, edits: int) -> None:
    """Edit after edit, each answered and held against the file."""
    drawn = random.Random(18)
    job = desk.get("/api/job")
    quick, full, equal = [], [], 0
    with desk.stream() as stream:
        stream.answer(job["input"])
        for _ in range(edits):
            key, old = drawn.choice(list(numbers(job["values"])))
            new: Any = float(f"{old * drawn.uniform(0.85, 1.15):.4g}")
            if drawn.random() < 0.3 and new > 1:
                new = {"low": new * 0.9, "likely": new, "high": new * 1.2}
            before = path.read_bytes()
            begun = time.monotonic()
            changes = [{"op": "set", "key": key, "value": new}]
            job = desk.post("/api/changes", {"base": job["hash"], "changes": changes})
            if job["faults"]:
                job = desk.post("/api/undo", {"base": job["hash"]})
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
            equal += 1
        server = desk.process.pid
        listed = subprocess.run(
            ["ps", "-o", "pid=", "--ppid", str(server)], capture_output=True, text=True, check=True
        )
        worker = max(size(int(pid)) for pid in listed.stdout.split())
        print(f"server {size(server):.0f} MB, worker {worker:.0f} MB after {equal} answers")
    print(f"first figures after a change: median {median(quick):.2f} s, most {max(quick):.2f} s")
    print(f"full answer after a change: median {median(full):.2f} s, most {max(full):.2f} s")
    print(f"{equal} of {edits} edits answered, each as the saved file is")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
