"""What is asked for: files, lots, rain."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from screening.schema.codes.storm import Series


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
    lots, structures, driveways, roads, soils, drains, wells, septic, barriers, downspouts, doors, wetlands, utilities,
    trees
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
    land_cover
        Raster of classes, or polygons with a column of covers.
    land_cover_field
        That column, where its name is not one of the usual ones.
    impervious
        Impervious polygons: those that touch a structure or a street are taken as driveways.
    land_cover_classes
        Table `class,cover` of a raster whose classes are not those of the National Land Cover Database.
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
    wetlands: str | None = None
    utilities: str | None = None
    trees: str | None = None
    lot_id_field: str | None = None
    soil_group_field: str | None = None
    vertical_unit: str | None = None
    context_elevation: Path | None = None
    context_vertical_unit: str | None = None
    impervious: str | None = None
    land_cover: str | None = None
    land_cover_field: str | None = None
    land_cover_classes: Path | None = None


@dataclass(frozen=True, kw_only=True)
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
    series
        `partial duration`, `annual maximum`, or `unknown` where the file does not say.
    """

    durations_h: tuple[float, ...]
    return_periods_yr: tuple[float, ...]
    depth_mm: tuple[tuple[float, ...], ...]
    source: str
    series: Series = Series.UNKNOWN


@dataclass(frozen=True, kw_only=True)
class Rain:
    """The rain of one storm.

    Parameters
    ----------
    depth_mm
        Depth [mm].
    label
        What it is called.
    source
        Where it comes from.
    is_assumed
        Nobody asked for it.
    table
        The rainfall table, where one was given: later stages ask it how often a depth returns.
    return_period_yr
        Known where the table is [yr]; `-inf` and `inf` = beyond its ends.
    duration_h
        Known where the table is [h].
    is_duration_assumed
        A depth was typed without a duration.
    """

    depth_mm: float
    label: str
    source: str
    is_assumed: bool = False
    table: RainfallTable | None = None
    return_period_yr: float | None = None
    duration_h: float | None = None
    is_duration_assumed: bool = False
