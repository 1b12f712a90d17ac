"""Fish on, or stop and sidetrack: the economics of an open-hole fishing job.

    load -> answer -> text, memo, afe, page, figures
            whatif, sensitivity, sweep, best_order, methods beside it, lessons after it
    read_records -> odds -> odds_fragment, for `odds_from` in a scenario
    daily -> speeds_fragment, draft_runs: daily reports, for `speeds_from` and for read_records

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
    from econ.decision.lessons import Lessons, lessons
    from econ.decision.methods import methods
    from econ.decision.order import ProgramSearch, best_order
    from econ.decision.plan import Plan, plan
    from econ.decision.sensitivity import Sensitivity, sensitivity
    from econ.decision.sweep import sweep
    from econ.decision.value_of_information import certainty_equivalent, evpi, evsi, posterior
    from econ.decision.whatif import WhatIf, whatif
    from econ.records import (
        RecordOdds,
        Records,
        beta_posterior_mean,
        odds,
        odds_fragment,
        parse_records,
        read_records,
        wilson_interval,
    )
    from econ.records.daily_reports import DailyReports, daily, draft_runs, speeds_fragment
    from econ.reports import theme
    from econ.reports.figures import alt_text, figure, pictures
    from econ.reports.figures.daily import daily_figure, daily_in_words
    from econ.reports.figures.output import png
    from econ.reports.figures.records import records_figure, records_in_words
    from econ.reports.forms import afe, class_page, figures, memo, page
    from econ.reports.supplement import supplement
    from econ.reports.tables import document
    from econ.reports.text import text
    from econ.scenario import Scenario, ScenarioError, load, parse
    from econ.scenario.run_log import parse_log, read_log

__all__ = [
    "Answer",
    "DailyReports",
    "Lessons",
    "Plan",
    "ProgramSearch",
    "RecordOdds",
    "Records",
    "Scenario",
    "ScenarioError",
    "Sensitivity",
    "WhatIf",
    "afe",
    "alt_text",
    "answer",
    "best_order",
    "beta_posterior_mean",
    "certainty_equivalent",
    "class_page",
    "daily",
    "daily_figure",
    "daily_in_words",
    "document",
    "draft_runs",
    "evpi",
    "evsi",
    "figure",
    "figures",
    "lessons",
    "load",
    "memo",
    "methods",
    "odds",
    "odds_fragment",
    "page",
    "parse",
    "parse_log",
    "parse_records",
    "pictures",
    "plan",
    "png",
    "posterior",
    "read_log",
    "read_records",
    "records_figure",
    "records_in_words",
    "sensitivity",
    "speeds_fragment",
    "supplement",
    "sweep",
    "text",
    "theme",
    "whatif",
    "wilson_interval",
]
__version__: str

# Where the names are at home. They are looked up on first use, so that `econ --help` and
# `econ check` import little.
_HOMES = {
    "Answer": "econ.decision",
    "DailyReports": "econ.records.daily_reports",
    "Lessons": "econ.decision.lessons",
    "Plan": "econ.decision.plan",
    "ProgramSearch": "econ.decision.order",
    "RecordOdds": "econ.records",
    "Records": "econ.records",
    "Scenario": "econ.scenario",
    "ScenarioError": "econ.scenario",
    "Sensitivity": "econ.decision.sensitivity",
    "WhatIf": "econ.decision.whatif",
    "afe": "econ.reports.forms",
    "alt_text": "econ.reports.figures",
    "answer": "econ.decision",
    "best_order": "econ.decision.order",
    "beta_posterior_mean": "econ.records",
    "certainty_equivalent": "econ.decision.value_of_information",
    "class_page": "econ.reports.forms",
    "daily": "econ.records.daily_reports",
    "daily_figure": "econ.reports.figures.daily",
    "daily_in_words": "econ.reports.figures.daily",
    "document": "econ.reports.tables",
    "draft_runs": "econ.records.daily_reports",
    "evpi": "econ.decision.value_of_information",
    "evsi": "econ.decision.value_of_information",
    "figure": "econ.reports.figures",
    "figures": "econ.reports.forms",
    "lessons": "econ.decision.lessons",
    "load": "econ.scenario",
    "memo": "econ.reports.forms",
    "methods": "econ.decision.methods",
    "odds": "econ.records",
    "odds_fragment": "econ.records",
    "page": "econ.reports.forms",
    "parse": "econ.scenario",
    "parse_log": "econ.scenario.run_log",
    "parse_records": "econ.records",
    "plan": "econ.decision.plan",
    "png": "econ.reports.figures.output",
    "posterior": "econ.decision.value_of_information",
    "read_log": "econ.scenario.run_log",
    "read_records": "econ.records",
    "records_figure": "econ.reports.figures.records",
    "records_in_words": "econ.reports.figures.records",
    "sensitivity": "econ.decision.sensitivity",
    "speeds_fragment": "econ.records.daily_reports",
    "supplement": "econ.reports.supplement",
    "sweep": "econ.decision.sweep",
    "text": "econ.reports.text",
    "whatif": "econ.decision.whatif",
    "wilson_interval": "econ.records",
}

# Modules of the interface: colours and sizes of the figures, and the pictures of a lesson.
_MODULES = {"pictures": "econ.reports.figures.pictures", "theme": "econ.reports.theme"}


def __dir__() -> list[str]:
    return sorted(__all__)


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    if name in _MODULES:
        return import_module(_MODULES[name])
    if name == "__version__":
        from importlib.metadata import version  # reads files, which few commands need

        return version("fish-or-sidetrack")
    raise AttributeError(f"module 'econ' has no attribute {name!r}")
