"""Small formulas that help to fill in a scenario: rates, hours and weights."""

from __future__ import annotations

from collections.abc import Sequence

STEEL = 65.5  # [lb/gal] density of steel in the customary buoyancy factor


def section_hours(
    *,
    footage: float,
    rate: float,
    connections: int = 0,
    connection_minutes: float = 0.0,
    surveys: int = 0,
    survey_minutes: float = 0.0,
    lost_share: float = 0.0,
) -> float:
    """Hours [h] to drill `footage` [ft] at `rate` [ft/h] with connections, surveys and
    `lost_share` [fraction] of lost time on top.

    Source: training page, section-time example.

    >>> round(section_hours(footage=3000, rate=65, connections=32, connection_minutes=4,
    ...                     surveys=33, survey_minutes=8, lost_share=0.08), 1)
    56.9
    """
    hours = footage / rate + (connections * connection_minutes + surveys * survey_minutes) / 60
    return hours * (1 + lost_share)


def gross_rate(*, footage: float, hours: float) -> float:
    """Rate [ft/h] with everything in it, for `gross_rop`, from `section_hours`.

    >>> round(gross_rate(footage=3000, hours=56.9), 1)
    52.7
    """
    return footage / hours


def staged_rate(shares: Sequence[float]) -> float:
    """Mean rate, as a share of the normal one, over equal footages drilled at `shares` of it.

    Time adds, so the mean is harmonic. Source: kick-off at 10, 30, then 60 % of the offset
    rate, directional tool manual.

    >>> round(staged_rate([0.1, 0.3, 0.6]), 3)
    0.2
    """
    return len(shares) / sum(1 / share for share in shares)


def buoyancy_factor(mud_weight: float) -> float:
    """Share of its weight in air that steel keeps in mud of `mud_weight` [lb/gal].

    >>> round(buoyancy_factor(13.0), 4)
    0.8015
    """
    return (STEEL - mud_weight) / STEEL
