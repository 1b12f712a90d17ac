"""Scrambled Sobol draws of uncertain amounts as named columns."""

from econ.sampling.draws import Column, Correlation, Sampler, Scramble

__all__ = ["Column", "Correlation", "Sampler", "Scramble"]
