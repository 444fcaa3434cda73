"""Driveways on ground given by formulas, for the tests of their study."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import shapely
from shapely import affinity

from screening.models import BlockResult, Rain, RainfallTable
from screening.pipeline import screen_block
from screening.schema.criteria import Criteria
from screening.storm.rainfall_tables import rain_of_storm
from tests.blocks import NORTH, WEST, make_block

RAIN = Rain(depth_mm=100.0, label="100 mm", source="test")
TABLE = RainfallTable(
    durations_h=(5 / 60, 1.0, 24.0),
    return_periods_yr=(1.0, 10.0, 100.0),
    depth_mm=((8.0, 15.0, 22.0), (25.0, 45.0, 70.0), (60.0, 120.0, 190.0)),
    source="invented",
)
STORM = rain_of_storm(TABLE, "10yr-24h")


def at(x0: float, y0: float, x1: float, y1: float) -> shapely.Polygon:
    """A rectangle in metres from the north-west corner of the window, y to the north."""
    return shapely.box(WEST + x0, NORTH + y0, WEST + x1, NORTH + y1)


LONG = at(20, -30, 40, -26)
"""A driveway 20 m from west to east and 4 m wide."""


def study(
    ground: Callable[[Any, Any], Any],
    shape: Any,
    *,
    size: tuple[int, int] = (60, 70),
    cell_m: float = 1.0,
    criteria: Criteria | None = None,
    rain: Rain = RAIN,
    further: tuple[Rain, ...] = (),
    **layers: Any,
) -> BlockResult:
    """Screen one driveway on ground z(x, y) of centres of cells, x and y as in `at`."""
    row, col = np.mgrid[: size[0], : size[1]].astype(float)
    elev = ground((col + 0.5) * cell_m, -(row + 0.5) * cell_m)
    block = make_block(elev, cell_m=cell_m, driveways=[("D", "lot", "driveway", shape)], **layers)
    return screen_block(block, criteria=criteria or Criteria(), rain=rain, further_rains=further)


def own_by_side(result: BlockResult, *, turned_deg: float = 0.0, about: Any = None) -> dict[str, float]:
    """Shares of own rain by the side of a rectangle, in its own frame before it was turned."""
    edges = result.driveway_study.edges
    lines = [affinity.rotate(line, -turned_deg, origin=about) if about else line for line in edges.geometry]
    west, south, east, north = shapely.MultiLineString(lines).bounds
    found = dict.fromkeys("WESN", 0.0)
    for line, share in zip(lines, edges.own_frac, strict=True):
        middle = line.interpolate(0.5, normalized=True)
        away = {
            "W": abs(middle.x - west),
            "E": abs(middle.x - east),
            "S": abs(middle.y - south),
            "N": abs(middle.y - north),
        }
        found[min(away, key=lambda side: away[side])] += share
    return found


def balance_error(result: BlockResult) -> float:
    """Largest part of a driveway's water that is unaccounted for."""
    storms = result.driveway_study.storms
    whole = storms.own_m3 + storms.run_on_m3
    left = whole - storms.leaves_m3 - storms.other_m3 - storms.stays_m3
    return float((left / whole).abs().max())
