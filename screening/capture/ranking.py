"""Zones of a lot in the order in which they are worth a look."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from screening.outfall.pipe_routes import GravityPipe
from screening.schema.codes.capture import ZoneSize, ZoneStatus
from screening.schema.codes.outfall import Reach
from screening.schema.columns import ZONE_COLUMNS, declared
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    import geopandas as gpd

_Order = tuple[bool, float, float, float]


def rank_zones(
    table: gpd.GeoDataFrame,
    points: gpd.GeoDataFrame,
    pipes: Mapping[tuple[int, int], GravityPipe],
    *,
    criteria: Criteria,
    crs: str,
) -> gpd.GeoDataFrame:
    """Put the zones of each lot in order: known soil first, then the water that reaches them and that their stone has
    room for at one time, then rate and area.

    Parameters
    ----------
    table, points
        `columns.ZONE_COLUMNS` and `columns.COLLECTION_COLUMNS`.
    pipes
        By the rows of both.
    criteria
        `stone_void_frac`.
    crs
        Of the zones.
    """
    reached, n_reached = _water_reaching(len(table), points, pipes)
    n_points = points["lot_id"].value_counts()
    room_m3 = (table["area_m2"] * table["storage_depth_m"] * criteria.storage.stone_void_frac).to_numpy(float)
    rate, area = np.nan_to_num(table["rate_low_mm_h"].to_numpy(float)), table["area_m2"].to_numpy(float)
    status = table["status"].tolist()

    def order(zone: int) -> _Order:
        water = min(reached[zone], round(float(room_m3[zone]), 6))
        return status[zone] != ZoneStatus.CANDIDATE, -water, -float(rate[zone]), -float(area[zone])

    rank, size = np.zeros(len(table), np.int64), np.full(len(table), ZoneSize.ALONE, dtype=object)
    for own in table.reset_index(drop=True).groupby("lot_id", sort=False).indices.values():
        largest = area[own].max()
        for place, zone in enumerate(sorted(own.tolist(), key=order), start=1):
            rank[zone] = place
            if own.size > 1:
                size[zone] = ZoneSize.LARGEST if area[zone] == largest else ZoneSize.NOT_LARGEST
    ranked = table.assign(
        zone_rank=rank,
        size=size,
        n_points_reaching=n_reached,
        n_points=[int(n_points.get(lot_id, 0)) for lot_id in table["lot_id"]],
    )
    # An empty column of words would take another type than a full one.
    return declared(ranked.drop(columns="geometry"), ZONE_COLUMNS, geometry=table.geometry, crs=crs)


def _water_reaching(
    n_zones: int, points: gpd.GeoDataFrame, pipes: Mapping[tuple[int, int], GravityPipe]
) -> tuple[list[float], list[int]]:
    """Own runoff of the points that reach each zone [m3], and how many do."""
    reached, n_reached = [0.0] * n_zones, [0] * n_zones
    runoff = points["own_runoff_m3"].tolist()
    for (point, zone), pipe in pipes.items():
        if pipe.reach is Reach.REACHABLE:
            # A millilitre less or more must not decide.
            reached[zone] = round(reached[zone] + float(runoff[point]), 6)
            n_reached[zone] += 1
    return reached, n_reached
