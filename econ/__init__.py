"""Fish on, or stop and sidetrack: the economics of an open-hole fishing job.

    scenario -> draws -> paths -> curves -> decision -> reports

>>> import econ
>>> scenario = econ.load("scenarios/point/a_land_twist_off.toml")
>>> econ.answer(scenario).best
3
"""

from __future__ import annotations

from importlib.metadata import version
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from econ.decision import Answer, answer
    from econ.records import RecordOdds, Records, odds, read_records
    from econ.scenario import Scenario, ScenarioError, load
    from econ.scenario.run_log import read_log

__all__ = [
    "Answer",
    "RecordOdds",
    "Records",
    "Scenario",
    "ScenarioError",
    "answer",
    "load",
    "odds",
    "read_log",
    "read_records",
]
__version__ = version("fish-or-sidetrack")


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])


def __getattr__(name: str) -> Any:
    # Looked up on first use, so that `econ --help` and `econ check` stay quick to start.
    from importlib import import_module

    if name in ("Scenario", "ScenarioError", "load"):
        return getattr(import_module("econ.scenario"), name)
    if name == "read_log":
        return getattr(import_module("econ.scenario.run_log"), name)
    if name in ("RecordOdds", "Records", "odds", "read_records"):
        return getattr(import_module("econ.records"), name)
    if name in ("Answer", "answer"):
        return getattr(import_module("econ.decision"), name)
    raise AttributeError(f"module 'econ' has no attribute {name!r}")
