"""The scenario file: its format, its checks and its messages. Knows no mathematics."""

from econ.scenario.faults import Fault, ScenarioError
from econ.scenario.load import load, parse
from econ.scenario.scenario import Scenario

__all__ = ["Fault", "Scenario", "ScenarioError", "load", "parse"]
