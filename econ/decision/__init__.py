"""What to do: limits, rule by state, next run, worth of knowing, published rules."""

from econ.decision.answer import Answer, answer

__all__ = ["Answer", "answer"]
