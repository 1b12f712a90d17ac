"""Planning ranges: a low and a high end, or low, likely and high, and how odds are shifted.

    odds ratio   p' = r p / (1 - p + r p): odds p/(1-p) times r
A ratio keeps a chance between 0 and 1, which a factor on p does not (common practice in
statistics).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Span:
    """A range from low to high, of odds [fraction], of ratios, or of a clearance [in]."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """Half way between the two ends."""
        return 0.5 * (self.low + self.high)

    def times(self, other: Span) -> Span:
        """Product, end by end.

        >>> Span(0.5, 0.8).times(Span(0.5, 1.0))
        Span(low=0.25, high=0.8)
        """
        return Span(self.low * other.low, self.high * other.high)

    def below(self, other: Span) -> Span:
        """The lower of two, end by end."""
        return Span(min(self.low, other.low), min(self.high, other.high))

    def shifted(self, ratio: Span) -> Span:
        """Odds with p/(1-p) times `ratio`, end by end; none where the ratio is 0.

        >>> Span(0.5, 0.5).shifted(Span(0.25, 1.0))
        Span(low=0.2, high=0.5)
        """
        return Span(_shifted(self.low, by=ratio.low), _shifted(self.high, by=ratio.high))


@dataclass(frozen=True)
class Hours:
    """Low, likely and high of a time [h]."""

    low: float
    likely: float
    high: float

    def __add__(self, other: Hours) -> Hours:
        return Hours(self.low + other.low, self.likely + other.likely, self.high + other.high)

    def times(self, count: int) -> Hours:
        """So many of it, all short or all long."""
        return Hours(count * self.low, count * self.likely, count * self.high)


def _shifted(chance: float, *, by: float) -> float:
    return by * chance / (1.0 - chance + by * chance)
