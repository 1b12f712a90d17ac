"""Decisions on the curves: limits, rule by state, next run, published rules."""

from econ.decision.answer import Answer, answer
from econ.decision.run_log import Status

__all__ = ["Answer", "Status", "answer"]
