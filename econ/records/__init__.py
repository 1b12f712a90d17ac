"""Past jobs turned into odds."""

from econ.records.proportions import beta_posterior_mean, wilson_interval

__all__ = ["beta_posterior_mean", "wilson_interval"]
