"""The page against `econ.answer` on the scenario with plain keys changed, as `--set` changes them.

Origin of expected numbers: independent. Nothing here turns a knob as the page does: the keys are
written by `page_overrides`, and the whole program answers the scenario that comes of it.
"""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from page_jobs import DEMOS, FOLDER, Job, changed, demo, point
from page_overrides import overrides

import econ
from econ.decision import Answer
from econ.decision.surface.value import Position

EXACT = 1e-9
GRIDS = 5e-4  # of speed and odds: half of what the page may be off


def answered(made: Job, path: Path, position: Position) -> Answer:
    """What the program answers with the position written into the file."""
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    keys = overrides(raw, position, made.surface.base, made.surface.fallback_now)
    return econ.answer(econ.load(path, [f"draws.n={made.scenario.draws.n}", *keys]))


def compare(made: Job, path: Path, position: Position, *, rel: float) -> None:
    found, expected = made.surface.at(position), answered(made, path, position)
    cost = np.array([row.expected_cost for row in expected.by_runs])
    np.testing.assert_allclose(found.cost, cost, rtol=rel)
    recovered = [row.probability_recovered for row in expected.by_runs]
    np.testing.assert_allclose(found.recovered, recovered, rtol=0, atol=rel)
    best = expected.best
    assert found.fishing[best] == pytest.approx(expected.stage_1.mean, rel=rel, abs=1.0)
    assert found.planned[best] == pytest.approx(expected.stage_1.planned, rel=rel, abs=1.0)
    assert found.fallback[best] == pytest.approx(expected.stage_2.mean, rel=rel)
    assert expected.scenario.fallback[found.taken].name == expected.fallbacks.taken.name
    need = expected.ahead[0].break_even_odds  # from fewer draws
    assert need is not None
    assert found.break_even == pytest.approx(need, abs=2e-3)


@pytest.mark.parametrize("letter", sorted(DEMOS))
def test_rates_and_fallbacks_changed_by_keys_are_met_exactly(letter: str) -> None:
    made = demo(letter)
    position = replace(made.surface.base, spread=1.6, fishing_day=0.6, fallback=1.3)
    compare(made, DEMOS[letter], position, rel=EXACT)


@pytest.mark.parametrize("letter", sorted(DEMOS))
def test_belief_and_speeds_changed_by_keys_are_met(letter: str) -> None:
    # with a belief of the file that is a single number too, so that all random numbers are alike
    made = changed(letter, "fishing.workable=0.6")
    base = made.surface.base
    compare(made, DEMOS[letter], replace(base, workable=0.3, spread=1.2), rel=EXACT)
    compare(made, DEMOS[letter], replace(base, workable=0.8, trip_speed=0.7), rel=GRIDS)


@pytest.mark.parametrize("letter", sorted(DEMOS))
def test_at_single_numbers_every_knob_is_met(letter: str) -> None:
    made = point(letter)
    path = FOLDER / "point" / DEMOS[letter].name
    base = made.surface.base
    odds = {}
    if any(knob.name == "next_odds" for knob in made.surface.knobs):
        odds = {"next_odds": 0.6 * base.next_odds}
    exact = replace(base, workable=0.35, spread=1.8, **odds)
    compare(made, path, exact, rel=EXACT)
    compare(made, path, replace(exact, fallback=1.4, trip_speed=1.3), rel=GRIDS)
