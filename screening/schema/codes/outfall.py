"""Codes of pipes by gravity and of where they come out."""

from __future__ import annotations

from enum import StrEnum


class Reach(StrEnum):
    """Whether water comes there by gravity."""

    REACHABLE = "reachable"
    NOT_REACHABLE = "not reachable"
    NOT_ASSESSED = "not assessed"
    OVER_GROUND = "over ground"


class RouteReason(StrEnum):
    """Why a route reaches its end, or does not."""

    GROUND_UNKNOWN = "ground unknown"
    CROSSES_STRUCTURE = "crosses a structure"
    LEAVES_LOT = "leaves the lot"
    FALLS_ENOUGH = "falls enough"
    STORAGE_DEEPER = "storage deeper"
    UPHILL = "uphill"
    TOO_LITTLE_FALL = "too little fall"
    STEEPEST_DESCENT = "steepest descent"


class Outfall(StrEnum):
    """Where the water of a drain may go by gravity."""

    AT_STREET = "daylight at the street"
    ON_LOT = "daylight on the lot"
    ZONE = "infiltration candidate"
    NONE = "none found by gravity"
