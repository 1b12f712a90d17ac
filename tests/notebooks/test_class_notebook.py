"""The class exercise as a notebook survives what a class does to it: other odds, other envelopes,
a duty to fish, decisions that are mistyped or left out."""

from __future__ import annotations

import contextlib
import io
import json
from pathlib import Path

import pytest

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
FOLDER = Path(__file__).parents[2] / "notebooks"


def played(monkeypatch: pytest.MonkeyPatch, **changes: str) -> str:
    """What the code of the notebook prints with some of its text changed."""
    monkeypatch.chdir(FOLDER)
    cells = json.loads((FOLDER / "08_class_exercise.ipynb").read_text("utf-8"))["cells"]
    known: dict[str, object] = {}
    told = io.StringIO()
    with contextlib.redirect_stdout(told):
        for cell in cells:
            if cell["cell_type"] != "code" or "pictures" in "".join(cell["source"]):
                continue
            code = "".join(cell["source"]).replace("draws.n=1024", "draws.n=16")
            for old, new in changes.items():
                code = code.replace(old, new)
            exec(compile(code, cell["id"], "exec"), known)
    return told.getvalue()


def test_other_odds_and_a_duty_are_played_to_the_end(monkeypatch: pytest.MonkeyPatch) -> None:
    changes = '"draws.n=16", "fishing.workable=0.15", "limits.minimum_runs=2"]'
    told = played(monkeypatch, **{'"draws.n=16"]': changes})
    assert "belief that the fish is workable 0.15" in told
    assert "STOP" in told
    assert "just one more" in told


def test_another_envelope_is_played_and_a_mistyped_decision_has_no_score(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # blank and other words: in the checks of the notebook
    other = {"a_class_job.csv": "a_class_job_other_end.csv"}
    told = played(monkeypatch, **other, **{'decide(3, "go")': 'decide(3, "stopp")'})
    assert "STRING_LOST" in told
    assert '"stopp" is neither "go" nor "stop"' in told
    assert "Decide first." in told
    assert "your team                        a morning without a decision: no score" in told
    assert "just one more" in told
