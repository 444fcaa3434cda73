"""Rows of the driveway study: edges, arrows, low points, storms, and the one row of each driveway."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from screening.driveways.edges import AT_THE_LINE, EdgePiece
from screening.driveways.shape import DrivewayShape
from screening.driveways.storms import StormFields, peak_of, volumes_m3
from screening.driveways.terrain import DrivewayGround
from screening.driveways.tracers import OWN, Tracers
from screening.models import F64, I64, Bool
from screening.schema.columns import SHARE_WORDS
from screening.schema.criteria import Criteria
from screening.units import GPM_PER_L_S

_GROUP_OF = {
    "garage": "wall",
    "structure": "wall",
    "street": "street",
    "driveway": "other",
    "neighbour": "neighbour",
    "street or neighbour": "beyond",
    "low spot": "low_spot",
    "lawn": "lawn",
}
_SAID_FROM = 0.05


@dataclass(frozen=True, kw_only=True, eq=False)
class Shed:
    """What the tracers of one driveway do in one storm.

    Parameters
    ----------
    fields
        The storm.
    volume_m3, gone_m3, held_m3
        By tracer: what it carries, what of it leaves, and what stays; float64.
    piece
        Piece of edge over which it leaves, -1 = over none, int64.
    """

    fields: StormFields
    volume_m3: F64
    gone_m3: F64
    held_m3: F64
    piece: I64


def shed(
    ground: DrivewayGround, tracers: Tracers, pieces: list[EdgePiece], fields: StormFields, *, criteria: Criteria
) -> Shed:
    """Pour a storm over a driveway: its low points take the first of what comes through them."""
    from screening.kernels.tracers import pour_into_ponds

    volume = volumes_m3(tracers, fields, criteria=criteria)
    gone, held = pour_into_ponds(volume, tracers.ponds, ground.pond_order, ground.pond_volume_m3)
    return Shed(
        fields=fields, volume_m3=volume, gone_m3=gone, held_m3=held, piece=_piece_of(tracers.leaves_at_m, pieces)
    )


def _piece_of(at_m: F64, pieces: list[EdgePiece]) -> I64:
    ends = np.array([piece.to_m for piece in pieces])
    place = np.minimum(np.searchsorted(ends, at_m, side="left"), len(pieces) - 1)
    return np.asarray(np.where(np.isnan(at_m), -1, place), np.int64)


def edge_rows(
    tracers: Tracers, pieces: list[EdgePiece], poured: Shed, ids: dict[str, str], *, criteria: Criteria
) -> list[dict[str, Any]]:
    """One row a piece of edge."""
    is_own = tracers.kind == OWN
    own, run_on = float(poured.volume_m3[is_own].sum()), float(poured.volume_m3[~is_own].sum())
    enters = _piece_of(tracers.enters_at_m, pieces)
    rows = []
    for number, piece in enumerate(pieces):
        over = poured.piece == number
        from_own, from_run_on = float(poured.gone_m3[over & is_own].sum()), float(poured.gone_m3[over & ~is_own].sum())
        peak = _nothing_less(peak_of(tracers, over, poured.fields, criteria=criteria).peak_m3_s)
        rows.append(
            ids
            | {
                "edge_id": f"{ids['driveway_id']} {number + 1}",
                "receiver": piece.receiver,
                "receiver_id": piece.receiver_id,
                "from_m": piece.from_m,
                "to_m": piece.to_m,
                "length_m": piece.to_m - piece.from_m,
                "own_frac": _share(from_own, own),
                "run_on_frac": _share(from_run_on, run_on),
                "share_frac": _share(from_own + from_run_on, own + run_on),
                "volume_l": 1000.0 * (from_own + from_run_on),
                "peak_l_s": 1000.0 * peak,
                "peak_gpm": 1000.0 * peak * GPM_PER_L_S,
                "enters_l": 1000.0 * float(poured.volume_m3[enters == number].sum()),
            }
        )
    return rows


def storm_row(
    tracers: Tracers, pieces: list[EdgePiece], poured: Shed, ids: dict[str, str], *, criteria: Criteria
) -> dict[str, Any]:
    """The row of a driveway in a storm: own rain + run-on = leaves + other ways + stays."""
    is_own, over = tracers.kind == OWN, poured.piece >= 0
    at_wall = over & np.isin(poured.piece, [n for n, piece in enumerate(pieces) if piece.receiver in AT_THE_LINE])
    peak = peak_of(tracers, at_wall, poured.fields, criteria=criteria)
    rain = poured.fields.storm.rain
    return ids | {
        "storm": rain.label,
        "rain_mm": rain.depth_mm,
        "own_m3": float(poured.volume_m3[is_own].sum()),
        "run_on_m3": float(poured.volume_m3[~is_own].sum()),
        "leaves_m3": float(poured.gone_m3[over].sum()),
        "other_m3": float(poured.gone_m3[~over].sum()),
        "stays_m3": float(poured.held_m3.sum()),
        "wall_m3": float(poured.gone_m3[at_wall].sum()),
        "wall_peak_l_s": 1000.0 * peak.peak_m3_s,
        "wall_peak_gpm": 1000.0 * peak.peak_m3_s * GPM_PER_L_S,
        "wall_tc_min": 60.0 * peak.time_h,
        "peak_method": peak.method,
    }


def shed_row(
    shape: DrivewayShape,
    ground: DrivewayGround,
    tracers: Tracers,
    pieces: list[EdgePiece],
    poured: Shed,
    storm: dict[str, Any],
    *,
    whole_area_m2: float,
    criteria: Criteria,
) -> dict[str, Any]:
    """What the study adds to the row of a driveway."""
    is_own = tracers.kind == OWN
    groups = {
        name: np.isin(poured.piece, [n for n, piece in enumerate(pieces) if _GROUP_OF[piece.receiver] == name])
        for name in SHARE_WORDS
    }
    groups["other"] |= poured.piece < 0
    row: dict[str, Any] = {name: storm[name] for name in ("own_m3", "run_on_m3", "stays_m3", "wall_m3")}
    row |= {name: storm[name] for name in ("wall_peak_l_s", "wall_peak_gpm")}
    for prefix, which in (("own", is_own), ("run_on", ~is_own)):
        total = float(poured.volume_m3[which].sum())
        for name, chosen in groups.items():
            row[f"{prefix}_to_{name}_frac"] = _share(float(poured.gone_m3[chosen & which].sum()), total)
        row[f"{prefix}_stays_frac"] = _share(float(poured.held_m3[which].sum()), total)
    depth = _depth(ground)
    deep = [
        n
        for n in range(1, len(ground.pond_cell))
        if depth[ground.pond_cell[n]] >= criteria.driveways.driveway_low_point_min_m
    ]
    is_small = ground.area_m2 < criteria.driveways.driveway_small_cells * ground.grid.cell_area_m2 or shape.is_narrow
    return row | {
        "sheds": _sheds_words(pieces, poured, is_own),
        "shape": shape.kind,
        "length_m": shape.length_m,
        "width_m": shape.width_m,
        "long_slope_pct": shape.long_slope_pct,
        "long_falls_to": shape.long_falls_to,
        "cross_slope_pct": shape.cross_slope_pct,
        "cross_falls_to": shape.cross_falls_to,
        "crown_m": shape.crown_m,
        "line_offset_m": shape.line_offset_m,
        "line_offset_to": shape.line_offset_to,
        "fit_residual_m": shape.residual_m,
        "n_low_points": len(deep),
        "is_small": bool(is_small),
        "shape_note": _note(shape, ground, whole_area_m2, criteria),
    }


def unknown_row(why: str) -> dict[str, Any]:
    """What the study adds where there is nothing to study."""
    words = {"sheds": "", "shape": "not assessed", "long_falls_to": "", "cross_falls_to": "", "line_offset_to": ""}
    return words | {"shape_note": why, "n_low_points": 0, "is_small": True}


def arrow_rows(ground: DrivewayGround, ids: dict[str, str], *, criteria: Criteria) -> tuple[list[dict[str, Any]], F64]:
    """Ways down at places that do not depend on the window, and those places [m]."""
    from screening.kernels.slope import aspect_deg, horn_slope_pct

    piece = ground.grid
    elev = np.ascontiguousarray(ground.ground_m)
    aspect, slope = aspect_deg(elev, piece.cell_m), horn_slope_pct(elev, piece.cell_m)
    every = max(round(criteria.driveways.driveway_arrow_spacing_m / piece.cell_m), 1)
    row, col = np.mgrid[: piece.n_rows, : piece.n_cols]
    on_lattice = ((row - round(piece.north_m / piece.cell_m)) % every == 0) & (
        (col + round(piece.west_m / piece.cell_m)) % every == 0
    )
    shown: Bool = on_lattice & (ground.covered_frac >= 0.5) & ~np.isnan(aspect)
    rows = [
        ids | {"direction_deg": float(way), "slope_pct": float(fall)}
        for way, fall in zip(aspect[shown], slope[shown], strict=True)
    ]
    return rows, np.column_stack((piece.x_of(0) + col[shown] * piece.cell_m, piece.y_of(0) - row[shown] * piece.cell_m))


def low_point_rows(
    ground: DrivewayGround, ids: dict[str, str], *, criteria: Criteria
) -> tuple[list[dict[str, Any]], F64]:
    """Low points that hold water and the lowest ground of the driveway, and their places [m]."""
    piece, depth = ground.grid, _depth(ground)
    own = np.flatnonzero((ground.covered_frac >= 0.5).ravel() & ~np.isnan(ground.ground_m).ravel())
    found = [
        (int(ground.pond_cell[n]), "holds water", float(ground.pond_volume_m3[n]))
        for n in ground.pond_order.tolist()
        if depth[ground.pond_cell[n]] >= criteria.driveways.driveway_low_point_min_m
    ]
    if own.size:
        lowest = int(own[np.argmin(ground.ground_m.ravel()[own])])
        found += [(lowest, "lowest ground", 0.0)] if lowest not in [cell for cell, *_ in found] else []
    rows = [
        ids
        | {
            "low_point_id": f"{ids['driveway_id']} low {number}",
            "kind": kind,
            "elev_m": float(ground.ground_m.ravel()[cell]),
            "depth_m": float(depth[cell]) if kind == "holds water" else 0.0,
            "volume_l": 1000.0 * volume,
        }
        for number, (cell, kind, volume) in enumerate(found, start=1)
    ]
    cells = np.array([cell for cell, *_ in found], np.int64)
    row, col = np.divmod(cells, piece.n_cols)
    return rows, np.column_stack((piece.x_of(0) + col * piece.cell_m, piece.y_of(0) - row * piece.cell_m))


def _depth(ground: DrivewayGround) -> F64:
    return np.asarray((ground.filled_m - ground.ground_m).ravel(), np.float64)


def _share(part: float, whole: float) -> float:
    return part / whole if whole > 0 else math.nan


def _nothing_less(value: float) -> float:
    return max(value, 0.0) if value == value else value


def _sheds_words(pieces: list[EdgePiece], poured: Shed, is_own: Bool) -> str:
    said = []
    for what, which in (("Own rain", is_own), ("Run-on", ~is_own)):
        total = float(poured.volume_m3[which].sum())
        if total <= 0:
            continue
        shares: dict[str, float] = {"stays on it": float(poured.held_m3[which].sum()) / total}
        for number, piece in enumerate(pieces):
            amount = float(poured.gone_m3[(poured.piece == number) & which].sum()) / total
            name = f"to {_NAMES.get(piece.receiver, piece.receiver)}"
            name += f" {piece.receiver_id}" if piece.receiver_id else ""
            shares[name] = shares.get(name, 0.0) + amount
        shown = sorted((item for item in shares.items() if item[1] >= _SAID_FROM), key=lambda item: -item[1])
        said.append(f"{what}: " + ", ".join(f"{share:.0%} {name}" for name, share in shown))
    return ". ".join(said)


_NAMES = {
    "street": "the street",
    "neighbour": "a neighbour",
    "street or neighbour": "beyond the lot",
    "low spot": "a low spot",
    "lawn": "the lawn",
}


def _note(shape: DrivewayShape, ground: DrivewayGround, whole_area_m2: float, criteria: Criteria) -> str:
    parts = []
    n_cells = ground.area_m2 / ground.grid.cell_area_m2
    if n_cells < criteria.driveways.driveway_small_cells:
        parts.append(f"small: {n_cells:.0f} cells")
    if shape.is_narrow:
        parts.append(f"narrow: {shape.width_m / ground.grid.cell_m:.1f} cells wide, cross fall not assessed")
    if shape.is_bent:
        parts.append("bent or of several arms: one long and one cross slope stand for all of it")
    missing = whole_area_m2 - ground.area_m2
    if missing > 0.01 * whole_area_m2:
        parts.append(f"{missing / whole_area_m2:.0%} of it under a structure or without elevation is left out")
    return "; ".join(parts)
