"""What the ground alone says of each side and each structure: what drains to it, how deep water can stand, its fall."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from screening.flow.dispersive import context_area_of
from screening.models import F64, I64, Block, FlowField, LowSpots, Surface
from screening.schema.codes.structures import ExposureKind
from screening.schema.codes.verdicts import Outcome
from screening.schema.criteria import Criteria
from screening.structures.fall_away import FallAway, bare_earth_of, judge_fall, measure_fall_away
from screening.structures.wall_inflow import by_side
from screening.structures.wall_water import full_depth_m, in_courtyard
from screening.structures.walls import SMALL_CELLS, Walls


@dataclass(frozen=True, kw_only=True)
class SideMeasure:
    """One side of a structure, on ground as it is; NaN = no ground with elevation beside it.

    Parameters
    ----------
    structure
        Place in `Walls.structure`.
    side
        Its name.
    contributing_area_m2
        Ground whose water first meets the walls there.
    lowest_grade_m, pond_depth_full_m
        Lowest ground beside it, and the deepest water when low spots are full.
    fall
        Of the ground away from it.
    """

    structure: int
    side: str
    exposure: ExposureKind
    contributing_area_m2: float
    lowest_grade_m: float
    pond_depth_full_m: float
    fall: FallAway
    edge_contaminated: bool


@dataclass(frozen=True, kw_only=True)
class StructureMeasure:
    """One structure, from its sides: names and units as in `columns.STRUCTURE_COLUMNS`.

    `spill_elev_m` is that of the low spot that stands deepest against it, NaN where none does.
    """

    structure_id: str
    lot_id: str
    kind: str
    exposure: str
    contributing_area_m2: float
    context_area_m2: float
    inflow_side: str
    inflow_side_area_m2: float
    lowest_adjacent_grade_m: float
    low_spot_id: str
    pond_side: str
    pond_depth_full_m: float
    spill_elev_m: float
    freeboard_m: float
    fall_away_side: str
    fall_away_pct: float
    fall_required_pct: float
    fall_error_pct: float
    has_enclosed_courtyard: bool
    is_small: bool
    edge_contaminated: bool


def measure_sides(
    block: Block,
    surface: Surface,
    walls: Walls,
    flow: FlowField,
    low_spots: LowSpots,
    *,
    arriving_m2: F64,
    criteria: Criteria,
) -> list[SideMeasure]:
    """Measure the sides of the structures on chosen lots.

    Parameters
    ----------
    block, surface, walls, flow, low_spots
        Of the same window.
    arriving_m2
        Ground whose water meets the walls first at each cell of `walls.zone_cells`, float64 [m2].
    criteria
        `low_spot_min_depth_m`, `structure_area_flag_m2`, `fall_away_distance_m`, `fall_away_min_pct`,
        `fall_away_paved_min_pct`, and the elevation's RMSE.
    """
    lots = dict(zip(block.lots["lot_id"], block.lots.geometry, strict=True)) if "lots" in block.given else {}
    lot_ids = block.structures["lot_id"].tolist()
    own_lots = [lots.get(lot_ids[side.structure]) for side in walls.sides]
    falls = measure_fall_away(walls.sides, own_lots, bare_earth_of(block, surface), criteria=criteria)
    area, grade = by_side(walls, arriving_m2), surface.routed_elev_m.ravel()
    is_cut, structure = flow.edge_sides.ravel() != 0, walls.structure_of_side.tolist()
    start, cells = walls.cells_by_side()
    measures = []
    for number, (first, end) in enumerate(itertools.pairwise(start.tolist())):
        beside = cells[first:end]
        is_known = beside.size > 0
        arrives = float(area[number]) if is_known else np.nan
        depth = float(full_depth_m(low_spots, beside).max()) if is_known else np.nan
        measures.append(
            SideMeasure(
                structure=structure[number],
                side=str(walls.sides[number].name),
                exposure=judge_exposure(
                    depth, arrives, is_open=bool(in_courtyard(low_spots, beside).any()), criteria=criteria
                ),
                contributing_area_m2=arrives,
                lowest_grade_m=float(grade[beside].min()) if is_known else np.nan,
                pond_depth_full_m=depth,
                fall=falls[number],
                edge_contaminated=bool(is_cut[beside].any()),
            )
        )
    return measures


def judge_exposure(
    pond_depth_full_m: float, contributing_area_m2: float, *, is_open: bool, criteria: Criteria
) -> ExposureKind:
    """Judge what reaches a wall: ponding before run-on before low.

    Parameters
    ----------
    pond_depth_full_m, contributing_area_m2
        NaN = no elevation there.
    is_open
        A courtyard that no ground drains lies at it: not assessed unless it shows more.
    criteria
        `low_spot_min_depth_m`, `structure_area_flag_m2`.
    """
    if pond_depth_full_m != pond_depth_full_m:
        return ExposureKind.NOT_ASSESSED
    if pond_depth_full_m >= criteria.depressions.low_spot_min_depth_m:
        return ExposureKind.PONDING
    if contributing_area_m2 >= criteria.structures.structure_area_flag_m2:
        return ExposureKind.RUN_ON
    return ExposureKind.NOT_ASSESSED if is_open else ExposureKind.LOW


def measure_structures(
    block: Block,
    walls: Walls,
    flow: FlowField,
    low_spots: LowSpots,
    sides: list[SideMeasure],
    *,
    criteria: Criteria,
) -> list[StructureMeasure]:
    """Measure each structure from its sides, in the order of `walls.structure`; parameters as for `measure_sides`."""
    n_under, names = walls.n_footprint_cells(), block.structures[["structure_id", "lot_id", "kind"]].to_numpy(object)
    beyond = context_area_of(flow, walls.zone_start, walls.zone_cells)
    of_structure: list[list[SideMeasure]] = [[] for _ in range(walls.structure.size)]
    for side in sides:
        of_structure[side.structure].append(side)
    measures = []
    for number, own in enumerate(of_structure):
        ring, least = walls.ring_of(number), min(own, key=_fall_order)
        area = [side.contributing_area_m2 for side in own if side.contributing_area_m2 == side.contributing_area_m2]
        most = next((side for side in own if area and side.contributing_area_m2 == max(area)), None)
        total, deepest = (sum(area) if area else np.nan), _deepest(own, ring, low_spots)
        grades = [side.lowest_grade_m for side in own if side.lowest_grade_m == side.lowest_grade_m]
        grade, is_open = min(grades, default=np.nan), bool(in_courtyard(low_spots, ring).any())
        structure_id, lot_id, kind = names[walls.structure[number]]
        measures.append(
            StructureMeasure(
                structure_id=structure_id,
                lot_id=lot_id,
                kind=kind,
                exposure=judge_exposure(deepest.depth_m, total, is_open=is_open, criteria=criteria).value,
                contributing_area_m2=total,
                context_area_m2=float(beyond[number]) if ring.size else np.nan,
                inflow_side=most.side if most else "",
                inflow_side_area_m2=most.contributing_area_m2 if most else np.nan,
                lowest_adjacent_grade_m=grade,
                low_spot_id=deepest.low_spot_id,
                pond_side=deepest.side,
                pond_depth_full_m=deepest.depth_m,
                spill_elev_m=deepest.spill_elev_m,
                freeboard_m=grade - deepest.spill_elev_m,
                fall_away_side=least.side,
                fall_away_pct=least.fall.fall_away_pct,
                fall_required_pct=least.fall.required_pct,
                fall_error_pct=least.fall.error_pct,
                has_enclosed_courtyard=is_open,
                is_small=bool(n_under[number] < SMALL_CELLS),
                edge_contaminated=bool((flow.edge_sides.ravel()[ring] != 0).any()),
            )
        )
    return measures


def _fall_order(side: SideMeasure) -> tuple[int, float]:
    """Order of the sides that may speak for a structure: one that fails, one not known, the least that passes."""
    fall = side.fall
    outcome: Outcome = judge_fall(fall.fall_away_pct, fall.required_pct, fall.error_pct)
    margin = fall.fall_away_pct - fall.required_pct
    is_measured = margin == margin
    group = {"failed": 0, "not assessed": 1 if is_measured else 2, "passed": 3}[outcome]
    return group, margin if is_measured else 0.0


@dataclass(frozen=True, kw_only=True)
class _Deepest:
    """The low spot that stands deepest against a wall when full, and the side where it does."""

    depth_m: float
    side: str = ""
    low_spot_id: str = ""
    spill_elev_m: float = np.nan


def _deepest(own: list[SideMeasure], ring: NDArray[np.int64], low_spots: LowSpots) -> _Deepest:
    if ring.size == 0:
        return _Deepest(depth_m=np.nan)
    depth = full_depth_m(low_spots, ring)
    deepest = float(depth.max())
    if deepest <= 0:
        return _Deepest(depth_m=0.0)
    name, level = _low_spot_at(low_spots, ring[int(depth.argmax())])
    return _Deepest(
        depth_m=deepest,
        side=next(side.side for side in own if side.pond_depth_full_m == deepest),
        low_spot_id=name,
        spill_elev_m=level,
    )


def _low_spot_at(low_spots: LowSpots, cell: I64) -> tuple[str, float]:
    """Id and spill elevation of the low spot that a cell lies in."""
    row = int(low_spots.label.ravel()[cell]) - 1
    return str(low_spots.found["low_spot_id"].iloc[row]), float(low_spots.found["spill_elev_m"].iloc[row])
