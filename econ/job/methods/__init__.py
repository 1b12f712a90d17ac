"""Kinds of run and where they suit: the catalogue set against a fish and its hole.

catalogue -> situation -> suitability (catches, preparations, junk) -> survey
                       -> planning odds -> a [[run]] to paste (run_fragment)
"""

from econ.job.methods.run_fragment import fragment
from econ.job.methods.survey import Methods, Suitability, methods, suitable, unsuited_runs

__all__ = ["Methods", "Suitability", "fragment", "methods", "suitable", "unsuited_runs"]
