"""Past jobs turned into odds."""

from econ.records.proportions import beta_posterior_mean, wilson_interval
from econ.records.reading import parse_records, read_records
from econ.records.records import Records

__all__ = [
    "Records",
    "beta_posterior_mean",
    "parse_records",
    "read_records",
    "wilson_interval",
]
