"""Rows of the driveway study: edges, arrows, low points, storms."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from screening.driveways.edges import EdgePiece
from screening.driveways.pouring import Shed, piece_of, share_of
from screening.driveways.storms import peak_of
from screening.driveways.terrain import DrivewayTerrain
from screening.driveways.tracers import Tracers
from screening.models import F64, Bool
from screening.schema.codes.driveways import LowPointKind
from screening.schema.criteria import Criteria
from screening.units import GPM_PER_L_S


@dataclass(frozen=True, kw_only=True)
class EdgeRow:
    """One piece of edge: see `columns.DRIVEWAY_EDGE_COLUMNS`."""

    edge_id: str
    driveway_id: str
    lot_id: str
    sheds_to: str
    sheds_to_id: str
    from_m: float
    to_m: float
    length_m: float
    own_frac: float
    run_on_frac: float
    share_frac: float
    volume_l: float
    peak_l_s: float
    peak_gpm: float
    enters_l: float


@dataclass(frozen=True, kw_only=True)
class StormRow:
    """One driveway in one storm: see `columns.DRIVEWAY_STORM_COLUMNS`."""

    driveway_id: str
    lot_id: str
    storm: str
    rain_mm: float
    own_m3: float
    run_on_m3: float
    leaves_m3: float
    other_m3: float
    stays_m3: float
    wall_m3: float
    wall_peak_l_s: float
    wall_peak_gpm: float
    wall_tc_min: float
    peak_code: str
    peak_limit: float


@dataclass(frozen=True, kw_only=True)
class ArrowRow:
    """The way down at a place [m]: see `columns.DRIVEWAY_ARROW_COLUMNS`."""

    driveway_id: str
    lot_id: str
    direction_deg: float
    slope_pct: float
    x_m: float
    y_m: float


@dataclass(frozen=True, kw_only=True)
class LowPointRow:
    """A low point at a place [m]: see `columns.DRIVEWAY_LOW_POINT_COLUMNS`."""

    low_point_id: str
    driveway_id: str
    lot_id: str
    kind: str
    elev_m: float
    depth_m: float
    volume_l: float
    x_m: float
    y_m: float


def edge_rows(
    tracers: Tracers, pieces: list[EdgePiece], poured: Shed, *, driveway_id: str, lot_id: str, criteria: Criteria
) -> list[EdgeRow]:
    """One row a piece of edge."""
    is_own = poured.is_own
    own, run_on = float(poured.volume_m3[is_own].sum()), float(poured.volume_m3[~is_own].sum())
    enters = piece_of(tracers.enters_at_m, pieces)
    rows = []
    for number, piece in enumerate(pieces):
        over = poured.piece == number
        from_own, from_run_on = float(poured.gone_m3[over & is_own].sum()), float(poured.gone_m3[over & ~is_own].sum())
        peak = _nothing_less(peak_of(tracers, over, poured.fields, criteria=criteria).peak_m3_s)
        rows.append(
            EdgeRow(
                edge_id=f"{driveway_id} {number + 1}",
                driveway_id=driveway_id,
                lot_id=lot_id,
                sheds_to=piece.sheds_to.value,
                sheds_to_id=piece.sheds_to_id,
                from_m=piece.from_m,
                to_m=piece.to_m,
                length_m=piece.to_m - piece.from_m,
                own_frac=share_of(from_own, own),
                run_on_frac=share_of(from_run_on, run_on),
                share_frac=share_of(from_own + from_run_on, own + run_on),
                volume_l=1000.0 * (from_own + from_run_on),
                peak_l_s=1000.0 * peak,
                peak_gpm=1000.0 * peak * GPM_PER_L_S,
                enters_l=1000.0 * float(poured.volume_m3[enters == number].sum()),
            )
        )
    return rows


def storm_row(tracers: Tracers, poured: Shed, *, driveway_id: str, lot_id: str, criteria: Criteria) -> StormRow:
    """The row of a driveway in a storm: own rain + run-on = leaves + other ways + stays."""
    is_own, over, at_wall = poured.is_own, poured.piece >= 0, poured.at_wall
    peak = peak_of(tracers, at_wall, poured.fields, criteria=criteria)
    rain = poured.fields.storm.rain
    return StormRow(
        driveway_id=driveway_id,
        lot_id=lot_id,
        storm=rain.label,
        rain_mm=rain.depth_mm,
        own_m3=float(poured.volume_m3[is_own].sum()),
        run_on_m3=float(poured.volume_m3[~is_own].sum()),
        leaves_m3=float(poured.gone_m3[over].sum()),
        other_m3=float(poured.gone_m3[~over].sum()),
        stays_m3=float(poured.held_m3.sum()),
        wall_m3=float(poured.gone_m3[at_wall].sum()),
        wall_peak_l_s=1000.0 * peak.peak_m3_s,
        wall_peak_gpm=1000.0 * peak.peak_m3_s * GPM_PER_L_S,
        wall_tc_min=60.0 * peak.time_h,
        peak_code=peak.code.value,
        peak_limit=peak.limit,
    )


def arrow_rows(terrain: DrivewayTerrain, *, driveway_id: str, lot_id: str, criteria: Criteria) -> list[ArrowRow]:
    """Ways down at places that do not depend on the window."""
    from screening.kernels.slope import aspect_deg, horn_slope_pct

    piece = terrain.grid
    elev = np.ascontiguousarray(terrain.ground_m)
    aspect, slope = aspect_deg(elev, piece.cell_m), horn_slope_pct(elev, piece.cell_m)
    every = max(round(criteria.driveways.driveway_arrow_spacing_m / piece.cell_m), 1)
    row, col = np.mgrid[: piece.n_rows, : piece.n_cols]
    on_lattice = ((row - round(piece.north_m / piece.cell_m)) % every == 0) & (
        (col + round(piece.west_m / piece.cell_m)) % every == 0
    )
    shown: Bool = on_lattice & (terrain.covered_frac >= 0.5) & ~np.isnan(aspect)
    x, y = piece.x_of(0) + col[shown] * piece.cell_m, piece.y_of(0) - row[shown] * piece.cell_m
    return [
        ArrowRow(driveway_id=driveway_id, lot_id=lot_id, direction_deg=way, slope_pct=fall, x_m=at_x, y_m=at_y)
        for way, fall, at_x, at_y in zip(
            aspect[shown].tolist(), slope[shown].tolist(), x.tolist(), y.tolist(), strict=True
        )
    ]


def deep_ponds(terrain: DrivewayTerrain, *, criteria: Criteria) -> list[int]:
    """Numbers of the low points that hold water deep enough to report, from the highest down."""
    depth, least = pond_depth_m(terrain), criteria.driveways.driveway_low_point_min_m
    return [number for number in terrain.pond_order.tolist() if depth[terrain.pond_cell[number]] >= least]


def low_point_rows(terrain: DrivewayTerrain, *, driveway_id: str, lot_id: str, criteria: Criteria) -> list[LowPointRow]:
    """Low points that hold water, and the lowest ground of the driveway."""
    piece, depth, elev = terrain.grid, pond_depth_m(terrain), terrain.ground_m.ravel()
    own = np.flatnonzero((terrain.covered_frac >= 0.5).ravel() & ~np.isnan(elev))
    found = [
        (int(terrain.pond_cell[number]), LowPointKind.HOLDS_WATER, float(terrain.pond_volume_m3[number]))
        for number in deep_ponds(terrain, criteria=criteria)
    ]
    if own.size:
        lowest = int(own[np.argmin(elev[own])])
        found += [(lowest, LowPointKind.LOWEST, 0.0)] if lowest not in [cell for cell, *_ in found] else []
    rows = []
    for number, (cell, kind, volume) in enumerate(found, start=1):
        row, col = divmod(cell, piece.n_cols)
        rows.append(
            LowPointRow(
                low_point_id=f"{driveway_id} low {number}",
                driveway_id=driveway_id,
                lot_id=lot_id,
                kind=kind.value,
                elev_m=float(elev[cell]),
                depth_m=float(depth[cell]) if kind is LowPointKind.HOLDS_WATER else 0.0,
                volume_l=1000.0 * volume,
                x_m=piece.x_of(0) + col * piece.cell_m,
                y_m=piece.y_of(0) - row * piece.cell_m,
            )
        )
    return rows


def pond_depth_m(terrain: DrivewayTerrain) -> F64:
    """Depth of the water when low points are full, flat, float64 [m]."""
    return np.asarray((terrain.filled_m - terrain.ground_m).ravel(), np.float64)


def _nothing_less(value: float) -> float:
    return max(value, 0.0) if not math.isnan(value) else value
