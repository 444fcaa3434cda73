"""Codes of directions, and of where a path of water ends. The values are what tables hold."""

from __future__ import annotations

import math
from enum import StrEnum


class Compass(StrEnum):
    """The eight directions, clockwise."""

    NORTH = "north"
    NORTH_EAST = "north-east"
    EAST = "east"
    SOUTH_EAST = "south-east"
    SOUTH = "south"
    SOUTH_WEST = "south-west"
    WEST = "west"
    NORTH_WEST = "north-west"


def compass_of(bearing_deg: float) -> Compass:
    """Name the direction nearest to a bearing, clockwise from north [deg].

    Examples
    --------
    >>> str(compass_of(100.0)), str(compass_of(337.5))
    ('east', 'north')
    """
    # Rounded first, so that a bearing halfway between two directions falls to the same one however it was found.
    return tuple(Compass)[math.floor(round(bearing_deg / 45.0, 6) + 0.5) % 8]


class PathEnd(StrEnum):
    """Why a path of water ends where it ends."""

    WINDOW_EDGE = "window edge"
    GAP = "gap"
    """At ground without elevation."""
    ENCLOSED = "enclosed"
    """On ground walled in by such gaps."""
