"""Codes of lines across a driveway."""

from __future__ import annotations

from enum import StrEnum


class LinePlace(StrEnum):
    """Where on its driveway a line lies."""

    GARAGE_FRONT = "garage front"
    MID_SLOPE = "mid-slope"
    STREET_SIDE = "street side"


class LineRun(StrEnum):
    """What a line runs along."""

    ACROSS = "across the driveway"
    CONTOUR = "along the contour"
    WALL = "along the wall"
