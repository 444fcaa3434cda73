"""Codes of rain."""

from __future__ import annotations

from enum import StrEnum


class Series(StrEnum):
    """Which rains of the years a rainfall table is made of."""

    PARTIAL_DURATION = "partial duration"
    ANNUAL_MAXIMUM = "annual maximum"
    UNKNOWN = "unknown"


class PeakMethod(StrEnum):
    """How a peak flow was computed."""

    RATIONAL = "rational"
    GRAPHICAL = "graphical"
