"""Where the ground could take water: slope, soil group, setbacks and room, with the reason for every no."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from screening.capture.cells import cells_by_label
from screening.capture.rejections import REASONS, ZoneWindow, first_reason, judge_soils, reject_cells
from screening.grid import polygonize, rasterize
from screening.models import I64, U32, Block, Bool, Depressions, InfiltrationZones, Surface
from screening.schema.codes.capture import InfiltrationStatus, RateBasis, Rejection, ZoneStatus
from screening.schema.codes.packing import pack
from screening.schema.columns import REJECTION_COLUMNS, ZONE_COLUMNS, declared, declared_plain
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    import geopandas as gpd

_UNKNOWN = np.uint32(REASONS[Rejection.SOIL_UNKNOWN])
_TOO_SMALL = np.uint32(REASONS[Rejection.SMALL_OR_NARROW])
_WORST = 3
"""Reasons that are named for a lot, those that turn away most of it first."""
_LEAST_FRAC = 0.005
"""Of a lot that a reason must turn away to be named: less is shown as 0 %."""


@dataclass(frozen=True, kw_only=True, eq=False)
class _Zone:
    """A zone: columns of `columns.ZONE_COLUMNS`, and its outline [m]."""

    lot_id: str
    status: ZoneStatus
    area_m2: float
    width_m: float
    slope_pct: float
    n_infiltration_tests: int
    soil: _Soil
    clear: _Clear
    shape: Any


@dataclass(frozen=True, kw_only=True)
class _Soil:
    """What is known of the soils of a zone: of rates the widest range, of depths the least."""

    hsg: str
    rate_low_mm_h: float
    rate_high_mm_h: float
    rate_from: RateBasis
    water_depth_m: float
    restrictive_depth_m: float
    storage_depth_m: float
    test_depth_m: float
    pit_depth_m: float


@dataclass(frozen=True, kw_only=True)
class _Clear:
    """Distance from a zone to the nearest of what it keeps clear of [m]; NaN where none is near."""

    structure_m: float
    lot_line_m: float
    well_m: float
    septic_m: float


def find_infiltration_zones(
    block: Block, surface: Surface, depressions: Depressions, *, criteria: Criteria
) -> InfiltrationZones:
    """Flag the ground of the chosen lots that passes soil, depths, slope, setbacks and room.

    Undrained dual groups count as D; unknown stays `not assessed`. A stated conductivity turns ground away where the
    best group that it allows by NEH 630 Table 7-1 is none of the candidates; depths to groundwater and to a
    restrictive layer do where no storage fits above them. Setbacks are measured from the polygons, to the cell
    centre. What lies beyond the window or is not given cannot be seen: a note says which layers were given.

    Parameters
    ----------
    block, surface, depressions
        Of the same window.
    criteria
        The `infiltration_`, `setback_`, `separation_`, `steep_slope_` and `storage_` thresholds.

    Returns
    -------
    Reasons for each cell, candidate zones, a line for each lot, and the ground turned away by lot and reason.
    """
    window = ZoneWindow(
        block=block,
        lot=block.lot_index,
        soil=rasterize(block.grid, list(block.soils.geometry), range(1, len(block.soils) + 1)),
        slope_pct=surface.slope_pct,
        soils=judge_soils(block, criteria),
    )
    reasons = reject_cells(window, surface, depressions, criteria=criteria)
    found: list[_Zone] = []
    for status, wanted in ((ZoneStatus.CANDIDATE, np.uint32(0)), (ZoneStatus.SOIL_NOT_ASSESSED, _UNKNOWN)):
        found += _keep_zones(reasons, reasons == wanted, status, window=window, criteria=criteria)
    table, on_lots = _tabulate(found, block), _reasons_by_lot(block, reasons)
    return InfiltrationZones(
        grid=block.grid,
        reasons=reasons,
        table=table,
        by_lot=_by_lot(block, table, on_lots),
        rejections=_rejections(block, on_lots),
    )


def _reasons_by_lot(block: Block, reasons: U32) -> list[U32]:
    """Reasons of the cells of each lot."""
    return [reasons.ravel()[cells] for cells in cells_by_label(block.lot_index, len(block.lots))]


def _keep_zones(
    reasons: U32, is_zone: Bool, status: ZoneStatus, *, window: ZoneWindow, criteria: Criteria
) -> Iterator[_Zone]:
    """Cut the passing cells into zones by lot, and turn away those without room: their bit is set in `reasons`."""
    from scipy import ndimage

    block, lot = window.block, window.lot
    grid = block.grid
    soils = {str(name): values.to_numpy() for name, values in window.soils.items()}
    for number, extent in enumerate(ndimage.find_objects(lot), start=1):
        if extent is None:
            continue
        part, n_parts = ndimage.label(is_zone[extent] & (lot[extent] == number))
        # One ring of False round the part, so that its own border counts as the end of the zone.
        room = ndimage.distance_transform_edt(np.pad(part > 0, 1))[1:-1, 1:-1]
        for zone in range(1, n_parts + 1):
            mask = part == zone
            area = float(mask.sum()) * grid.cell_area_m2
            # From the middle cell's centre to the first centre outside, less half a cell, both ways.
            width = (2.0 * float(room[mask].max()) - 1.0) * grid.cell_m
            if area < criteria.capture.infiltration_min_area_m2 or width < criteria.capture.infiltration_min_width_m:
                reasons[extent][mask] |= _TOO_SMALL
                continue
            shape = polygonize(grid, mask, first_row=extent[0].start, first_col=extent[1].start)
            yield _Zone(
                lot_id=block.lots["lot_id"].iloc[number - 1],
                status=status,
                area_m2=area,
                width_m=width,
                slope_pct=float(np.mean(window.slope_pct[extent][mask])),
                n_infiltration_tests=criteria.capture.tests_per_zone,
                soil=_soil_of(soils, np.flatnonzero(np.bincount(window.soil[extent][mask])), criteria),
                clear=_distances(shape, block, number - 1, within_m=criteria.site.window_margin_m),
                shape=shape,
            )


def _soil_of(soils: Mapping[str, NDArray[Any]], rows: I64, criteria: Criteria) -> _Soil:
    """Gather what is known of the soils of a zone, by their rows."""
    own = {name: values[rows] for name, values in soils.items()}
    is_known = not np.isnan([own["rate_low_mm_h"], own["rate_high_mm_h"]]).any()
    base_m = criteria.storage.storage_cover_m + float(own["storage_depth_m"].min())
    groups = ", ".join(sorted(set(own["hsg"])))
    water_m, restrictive_m = (_least(own[name]) for name in ("water_depth_m", "restrictive_depth_m"))
    if not is_known:
        rate_from = RateBasis.UNKNOWN
    else:
        rate_from = RateBasis.URBAN_GROUP if np.isnan(own["ksat_mm_h"]).any() else RateBasis.CONDUCTIVITY
    return _Soil(
        hsg=groups,
        rate_low_mm_h=float(own["rate_low_mm_h"].min()) if is_known else np.nan,
        rate_high_mm_h=float(own["rate_high_mm_h"].max()) if is_known else np.nan,
        rate_from=rate_from,
        water_depth_m=water_m,
        restrictive_depth_m=restrictive_m,
        storage_depth_m=float(own["storage_depth_m"].min()),
        test_depth_m=base_m,
        pit_depth_m=base_m + max(criteria.storage.separation_water_m, criteria.storage.separation_rock_m),
    )


def _least(depths_m: Any) -> float:
    """The least of the depths that are known; NaN where none is."""
    return float(np.fmin.reduce(depths_m))


def _distances(zone: Any, block: Block, lot: int, *, within_m: float) -> _Clear:
    """Distance from a zone to the nearest of what it keeps clear of; NaN where none is so near."""

    west, south, east, north = zone.bounds
    # A little more than asked: what lies at just that distance must not be lost to rounding.
    more_m = 1.001 * within_m
    around = west - more_m, south - more_m, east + more_m, north + more_m

    def nearest(shapes: Any) -> float:
        near = shapes.iloc[shapes.sindex.intersection(around)]
        distance = float(near.distance(zone).min()) if len(near) else np.nan
        # Every window shows that much around its lots; what lies beyond is seen from some and not from others.
        return distance if distance <= within_m else np.nan

    return _Clear(
        structure_m=nearest(block.structures.geometry),
        lot_line_m=float(block.lots.geometry.iloc[lot].boundary.distance(zone)) if "lots" in block.given else np.nan,
        well_m=nearest(block.wells.geometry),
        septic_m=nearest(block.septic.geometry),
    )


def _tabulate(zones: list[_Zone], block: Block) -> gpd.GeoDataFrame:
    # Candidates before zones of unknown soil; the roomiest first.
    in_order = sorted(zones, key=lambda zone: (zone.status is not ZoneStatus.CANDIDATE, -zone.area_m2))
    own = ("lot_id", "status", "area_m2", "width_m", "slope_pct", "n_infiltration_tests")
    rows = [
        {"zone_id": f"IZ-{number}", "zone_rank": 0}
        | {name: getattr(zone, name) for name in own}
        | dataclasses.asdict(zone.soil)
        | dataclasses.asdict(zone.clear)
        for number, zone in enumerate(in_order, start=1)
    ]
    return declared(rows, ZONE_COLUMNS, geometry=[zone.shape for zone in in_order], crs=block.grid.crs)


def _by_lot(block: Block, table: gpd.GeoDataFrame, on_lots: list[U32]) -> pd.DataFrame:
    lot_ids = block.lots["lot_id"].tolist()
    is_candidate = table["status"] == ZoneStatus.CANDIDATE
    candidate = table[is_candidate].groupby("lot_id")["area_m2"].sum()
    has_unknown = set(table.loc[~is_candidate, "lot_id"])
    area = [float(candidate.get(lot_id, 0.0)) for lot_id in lot_ids]
    limits = [_limits(own) for own in on_lots]
    status = []
    for lot_id, area_m2, worst in zip(lot_ids, area, limits, strict=True):
        has_no_elevation = bool(worst) and worst[0][0] is Rejection.NO_ELEVATION
        if area_m2 > 0:
            status.append(InfiltrationStatus.CANDIDATE)
        elif lot_id in has_unknown or "soils" not in block.given or has_no_elevation:
            status.append(InfiltrationStatus.NOT_ASSESSED)
        else:
            status.append(InfiltrationStatus.NONE_FOUND)
    return pd.DataFrame(
        {
            "lot_id": lot_ids,
            "infiltration_area_m2": area,
            "infiltration_status": status,
            "infiltration_limits": [pack(worst) for worst in limits],
        }
    )


def _rejections(block: Block, on_lots: list[U32]) -> pd.DataFrame:
    """Measure the ground that each reason turns away, by lot: as the first one, and in all."""
    lot_ids: list[str] = []
    said: list[Rejection] = []
    first_m2: list[float] = []
    any_m2: list[float] = []
    for lot_id, own in zip(block.lots["lot_id"], on_lots, strict=True):
        first = first_reason(own)
        for reason, bit in REASONS.items():
            n_any = int(((own & np.uint32(bit)) != 0).sum())
            if n_any:
                lot_ids.append(lot_id)
                said.append(reason)
                first_m2.append(int((first == bit).sum()) * block.grid.cell_area_m2)
                any_m2.append(n_any * block.grid.cell_area_m2)
    columns = {"lot_id": lot_ids, "reason": said, "first_m2": first_m2, "any_m2": any_m2}
    return declared_plain(columns, REJECTION_COLUMNS)


def _limits(reasons: U32) -> list[tuple[Rejection, float]]:
    """The reasons that turn away most of a lot's ground, with their shares; NaN where the lot shows no ground."""
    if reasons.size == 0:
        return [(Rejection.NO_ELEVATION, np.nan)]
    shares = {reason: float(((reasons & np.uint32(bit)) != 0).mean()) for reason, bit in REASONS.items()}
    worst = sorted((reason for reason in shares if shares[reason] >= _LEAST_FRAC), key=lambda reason: -shares[reason])
    return [(reason, shares[reason]) for reason in worst[:_WORST]]
