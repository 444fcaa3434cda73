"""Codes of rain."""

from __future__ import annotations

from enum import StrEnum


class Series(StrEnum):
    """Which rains of the years a rainfall table is made of."""

    PARTIAL_DURATION = "partial duration"
    ANNUAL_MAXIMUM = "annual maximum"
    UNKNOWN = "unknown"


class PeakCode(StrEnum):
    """How the peak at a place was found, or why it is not assessed."""

    NOTHING_ARRIVES = "nothing arrives"
    RATIONAL = "rational method"
    GRAPHICAL = "graphical method"
    AREA_TOO_LARGE = "area too large"
    """More ground drains there than the rational method may take: the limit in hectares."""
    TIME_TOO_LONG = "time too long"
    """The water takes longer than the longest duration of the rainfall table: that duration in hours."""
