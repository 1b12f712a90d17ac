"""Distributions of uncertain amounts, and scrambled Sobol draws of them as named columns."""

from econ.sampling.distributions import (
    BetaOdds,
    Discrete,
    Distribution,
    Lognormal,
    Pert,
    Triangle,
    Uniform,
)
from econ.sampling.draws import Column, Correlation, Sampler, Scramble
from econ.sampling.truncated import Metalog, Normal

__all__ = [
    "BetaOdds",
    "Column",
    "Correlation",
    "Discrete",
    "Distribution",
    "Lognormal",
    "Metalog",
    "Normal",
    "Pert",
    "Sampler",
    "Scramble",
    "Triangle",
    "Uniform",
]
