"""Fish on, or stop and sidetrack: the economics of an open-hole fishing job.

    scenario -> draws -> paths -> curves -> decision -> reports

>>> import econ
>>> scenario = econ.load("scenarios/point/a_land_twist_off.toml")
>>> econ.answer(scenario).best
3
"""

from __future__ import annotations

from importlib import import_module
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
__version__: str

# Where the names are at home. They are looked up on first use, so that `econ --help` and
# `econ check` import little.
_HOMES = {
    "Answer": "econ.decision",
    "RecordOdds": "econ.records",
    "Records": "econ.records",
    "Scenario": "econ.scenario",
    "ScenarioError": "econ.scenario",
    "answer": "econ.decision",
    "load": "econ.scenario",
    "odds": "econ.records",
    "read_log": "econ.scenario.run_log",
    "read_records": "econ.records",
}


def __dir__() -> list[str]:
    return sorted(__all__)


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    if name == "__version__":
        from importlib.metadata import version  # reads files, which few commands need

        return version("fish-or-sidetrack")
    raise AttributeError(f"module 'econ' has no attribute {name!r}")
