"""Words of routes by gravity: why one reaches its end or does not, and what that end is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from screening.schema.codes.capture import RouteEnd
from screening.schema.codes.outfall import Outfall, RouteReason

if TYPE_CHECKING:
    from screening.report.words import Teller

ROUTE_WORDS: dict[RouteReason, str] = {
    RouteReason.GROUND_UNKNOWN: "ground without elevation lies on the way",
    RouteReason.CROSSES_STRUCTURE: "the route crosses a structure",
    RouteReason.LEAVES_LOT: "the route leaves the lot",
    RouteReason.FALLS_ENOUGH: "the ground falls enough",
    RouteReason.STORAGE_DEEPER: "it falls enough once the storage lies deeper",
    RouteReason.UPHILL: "the zone lies uphill",
    RouteReason.TOO_LITTLE_FALL: "too little fall",
    RouteReason.STEEPEST_DESCENT: "by steepest descent from the lowest ground of the zone",
}


def end_words(end: RouteEnd, end_id: str) -> str:
    """Say what a route comes to first; empty where that is not shown yet."""
    return {
        RouteEnd.NONE: "",
        RouteEnd.ZONE: f"zone {end_id}",
        RouteEnd.WALLS: f"the walls of {end_id}",
        RouteEnd.LOW_SPOT: f"low spot {end_id}",
        RouteEnd.OFF_LOT: "ground off the lot",
        RouteEnd.WINDOW_EDGE: "the edge of the window",
    }[end]


def outfall_words(outfall: Outfall, zone_id: str) -> str:
    """Say where the water of a drain may go; empty where no outfall was found."""
    if outfall == Outfall.NONE:
        return ""
    return f"zone {zone_id}" if outfall == Outfall.ZONE else str(outfall)


TELLERS: dict[tuple[str, str], Teller] = {}
"""No sentence of a table is made of these words alone."""
