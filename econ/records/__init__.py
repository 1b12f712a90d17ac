"""Past jobs turned into odds: read_records -> odds -> odds_fragment."""

from econ.records.estimate import RecordOdds, odds
from econ.records.fragment import odds_fragment
from econ.records.proportions import beta_interval, beta_posterior_mean, wilson_interval
from econ.records.reading import parse_records, read_records
from econ.records.records import Records

__all__ = [
    "RecordOdds",
    "Records",
    "beta_interval",
    "beta_posterior_mean",
    "odds",
    "odds_fragment",
    "parse_records",
    "read_records",
    "wilson_interval",
]
