"""Invent a table of past jobs of known truth: python scenarios/records/invent.py

No job in it was ever made. Wells, runs and numbers are drawn at random from TRUTH with a fixed
seed, so that what `econ odds` finds can be held against what was put in. The same script gives
the same file, byte for byte.
"""

from __future__ import annotations

import csv
import io
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

SEED = 5
JOBS = 180
FILE = Path(__file__).with_name("invented_jobs.csv")
TRUTH = {
    "workable": 0.65,  # share of workable fish
    # chance of recovery on a workable and on a stubborn fish, and the odds of being the next run
    "overshot": (0.62, 0.05),
    "wash_then_catch": (0.52, 0.08),
    "spear": (0.56, 0.06),
    "taper_tap": (0.30, 0.03),
    # of the runs that do not recover: nothing, part, top damaged, string lost, hole lost
    "failures": (0.66, 0.14, 0.12, 0.06, 0.02),
    "odds_ratio_per_day": 1.0,  # elapsed time does nothing in this set
    "stopped": 0.13,  # chance after each failure that the job is stopped for economics
    "hopeful": 1.7,  # odds were stated too high by this odds ratio
}
KINDS = ("overshot", "wash_then_catch", "spear", "taper_tap")
FIRST = (0.72, 0.10, 0.16, 0.02)  # shares of the kinds in the first run, and in later ones
LATER = (0.42, 0.34, 0.20, 0.04)
OUTCOMES = ("nothing", "part", "top_damaged", "string_lost", "hole_lost")
MECHANISMS = ("parted", "differential", "packed_off", "key_seat", "unknown")
COLUMNS = (
    *("job", "run", "kind", "outcome", "mechanism", "hole_size", "angle", "depth"),
    *("top_condition", "start", "hours", "stated_odds", "job_end", "remark"),
)


def invented() -> str:
    """The table as CSV text."""
    rng = np.random.default_rng(SEED)
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for number in range(1, JOBS + 1):
        writer.writerows(job(rng, number))
    return out.getvalue()


def job(rng: np.random.Generator, number: int) -> list[list[object]]:
    """The rows of one job."""
    workable = rng.random() < TRUTH["workable"]
    mechanism = MECHANISMS[rng.choice(5, p=(0.45, 0.25, 0.15, 0.1, 0.05))]
    hole = float(rng.choice((6.125, 8.5, 12.25), p=(0.2, 0.65, 0.15)))
    depth = round(float(rng.uniform(5500, 14500)))
    angle = round(float(rng.gamma(1.2, 12)))
    start = datetime(2016, 1, 4, 6) + timedelta(hours=int(rng.integers(0, 8 * 365 * 24)))
    top = "clean"
    rows: list[list[object]] = []
    for run in range(1, 9):
        kind = KINDS[rng.choice(4, p=FIRST if run == 1 else LATER)]
        p, q = TRUTH[kind]
        chance = p if workable else q
        hours = round(float(rng.uniform(12, 20) + depth / 700), 1)
        recovered = rng.random() < chance
        outcome = "recovered" if recovered else OUTCOMES[rng.choice(5, p=TRUTH["failures"])]
        mean = TRUTH["workable"] * p + (1 - TRUTH["workable"]) * q
        hopeful = TRUTH["hopeful"] * mean / (1 - mean + TRUTH["hopeful"] * mean)
        stated = round(float(np.clip(hopeful + rng.normal(0, 0.08), 0.05, 0.95)), 2)
        rows.append(
            [
                *(f"Invented {number:03d}", run, kind, outcome, mechanism, hole, angle, depth),
                *(top, f"{start:%Y-%m-%dT%H:%M}", hours, stated if rng.random() < 0.7 else ""),
                *("", "invented"),
            ]
        )
        if recovered or outcome in ("string_lost", "hole_lost"):
            rows[-1][-2] = "recovered" if recovered else "lost"
            return rows
        if rng.random() < TRUTH["stopped"]:
            break
        top = "damaged" if outcome == "top_damaged" else top
        wait = float(rng.exponential(30)) if rng.random() < 0.4 else float(rng.uniform(2, 6))
        start += timedelta(minutes=round(60 * (hours + wait)))
    rows[-1][-2] = "economics"
    return rows


if __name__ == "__main__":
    FILE.write_text(invented(), encoding="utf-8", newline="\n")
