"""Distributions of uncertain amounts: one class for each table that a file may write."""

from econ.scenario.distributions.bounded import Beta, Discrete, Pert, Triangle, Uniform
from econ.scenario.distributions.family import Distribution
from econ.scenario.distributions.tailed import Lognormal, Metalog, Normal

FAMILY: tuple[type[Distribution], ...] = (
    Uniform,
    Pert,
    Triangle,
    Normal,
    Lognormal,
    Metalog,
    Discrete,
    Beta,
)

__all__ = [
    "FAMILY",
    "Beta",
    "Discrete",
    "Distribution",
    "Lognormal",
    "Metalog",
    "Normal",
    "Pert",
    "Triangle",
    "Uniform",
]
