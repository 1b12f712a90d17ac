"""What moves the cost, what moves the limit, and what would flip the verdict."""

from econ.decision.sensitivity.break_even import BreakEven, InputError, LimitMap
from econ.decision.sensitivity.importance import Importance, Importances
from econ.decision.sensitivity.inputs import Input
from econ.decision.sensitivity.summary import Sensitivity, sensitivity
from econ.decision.sensitivity.swings import Side, Swing
from econ.decision.sensitivity.value_of_knowing import Worth

__all__ = [
    "BreakEven",
    "Importance",
    "Importances",
    "Input",
    "InputError",
    "LimitMap",
    "Sensitivity",
    "Side",
    "Swing",
    "Worth",
    "sensitivity",
]
