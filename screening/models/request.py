"""What is asked for: files, lots, rain."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class LatLon:
    """A place in WGS 84 degrees."""

    lat: float
    lon: float


@dataclass(frozen=True, kw_only=True)
class SiteRequest:
    """Which files and which lots a screening is asked for.

    A vector path may name a layer of a file that has several as `PATH::LAYER`.

    Parameters
    ----------
    elevation
        Any raster that GDAL reads.
    lots, structures, driveways, roads, soils, drains, wells, septic, barriers, downspouts, doors
        Vector layers in any format that pyogrio reads; only `elevation` must be there.
    lot_ids
        Lots to screen; with none and no `at`, every lot of the layer.
    at, radius_m
        The lot that holds this place; without a lots layer, a circle of this radius around it.
    lot_id_field, soil_group_field
        Column of the lot ids or hydrologic groups where its name is not one of the usual ones.
    vertical_unit
        `m`, `ft`, `us-ft` or `cm`, where the raster does not say.
    context_elevation, context_vertical_unit
        A coarser raster of the ground around, for catchments that the fine one does not hold, and its unit.
    """

    elevation: Path
    lots: str | None = None
    lot_ids: tuple[str, ...] = ()
    at: LatLon | None = None
    radius_m: float = 60.0
    structures: str | None = None
    driveways: str | None = None
    roads: str | None = None
    soils: str | None = None
    drains: str | None = None
    wells: str | None = None
    septic: str | None = None
    barriers: str | None = None
    downspouts: str | None = None
    doors: str | None = None
    lot_id_field: str | None = None
    soil_group_field: str | None = None
    vertical_unit: str | None = None
    context_elevation: Path | None = None
    context_vertical_unit: str | None = None


@dataclass(frozen=True)
class RainfallTable:
    """Rain depths by duration and return period, as read from a point precipitation table.

    Parameters
    ----------
    durations_h
        Ascending [h].
    return_periods_yr
        Ascending [yr].
    depth_mm
        Rows by duration, columns by return period [mm].
    source
        What the file says of itself.
    """

    durations_h: tuple[float, ...]
    return_periods_yr: tuple[float, ...]
    depth_mm: tuple[tuple[float, ...], ...]
    source: str


@dataclass(frozen=True)
class Rain:
    """The rain of one storm: a depth [mm], what it is called, where it comes from, whether anyone asked for it."""

    depth_mm: float
    label: str
    source: str
    is_assumed: bool = False
