"""What each improvement takes in the storm and could take, and the ground it moves."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from screening.hydraulics.trench_drain import find_capacities
from screening.improvements.drains import NOT_KNOWN, trench_drain_of
from screening.improvements.earth import EarthMoved, earth_moved
from screening.improvements.received import StormWater
from screening.models import I64, BlockResult, Improvement, Improvements
from screening.schema.codes.improvements import Kind
from screening.schema.columns import IMPROVEMENT_COLUMNS, declared
from screening.schema.work_kinds import all_kinds
from screening.terrain.intakes import intake_cells

if TYPE_CHECKING:
    import geopandas as gpd

LEAST_TAKEN_M3 = 0.001
"""Less than this, a litre, an improvement takes nothing."""


@dataclass(frozen=True, kw_only=True)
class Measured:
    """An improvement in numbers: columns of `columns.IMPROVEMENT_COLUMNS`; NaN where it cannot be told.

    Parameters
    ----------
    improvement
        Which it is.
    taken_m3, taken_spread_m3
        Storm runoff that it takes, by steepest descent and where water spreads.
    peak_l_s, capacity_l_s, limited_by
        Peak that comes to it, and what it could take, with the part that takes least.
    earth
        Ground it moves.
    """

    improvement: Improvement
    taken_m3: float = NOT_KNOWN
    taken_spread_m3: float = NOT_KNOWN
    peak_l_s: float = NOT_KNOWN
    capacity_l_s: float = NOT_KNOWN
    limited_by: str = ""
    earth: EarthMoved


def measure_improvements(before: BlockResult, water: StormWater, improvements: Improvements) -> tuple[Measured, ...]:
    """Measure what each improvement takes in the storm, what it could take, and the ground it moves.

    Parameters
    ----------
    before
        The window without them.
    water
        Of the window with them.
    improvements
        Those that stand in it.
    """
    found = [_measure(improvement, before, water, improvements) for improvement in improvements.items]
    coming: dict[str, float] = {}
    for each in found:
        # A storage takes what all that leads to it take, in their order.
        to = each.improvement.word("to")
        coming[to] = coming.get(to, 0.0) + each.taken_m3
    return tuple(
        dataclasses.replace(each, taken_m3=coming.get(each.improvement.improvement_id, 0.0))
        if each.improvement.kind == Kind.STORAGE
        else each
        for each in found
    )


def tabulate_improvements(measured: tuple[Measured, ...], crs: str) -> gpd.GeoDataFrame:
    """Make the table of improvements with their shapes: `columns.IMPROVEMENT_COLUMNS`."""
    rows = [columns_of(each) for each in measured]
    return declared(rows, IMPROVEMENT_COLUMNS, geometry=[each.improvement.geometry for each in measured], crs=crs)


def columns_of(measured: Measured) -> dict[str, object]:
    """Give what was measured of an improvement by column of `columns.IMPROVEMENT_COLUMNS`."""
    improvement = measured.improvement
    own = ("taken_m3", "taken_spread_m3", "peak_l_s", "capacity_l_s", "limited_by")
    given = ("height_m", "depth_m", "slope_pct", "volume_m3")
    return (
        {
            "improvement_id": improvement.improvement_id,
            "kind": improvement.kind.replace("_", " "),
            "leads_to": improvement.word("to"),
            "length_m": _length_m(improvement),
            "area_m2": _area_m2(improvement),
        }
        | {name: improvement.number(name) for name in given}
        | {name: getattr(measured, name) for name in own}
        | dataclasses.asdict(measured.earth)
    )


def _length_m(improvement: Improvement) -> float:
    is_line = improvement.geometry.geom_type == "LineString"
    return float(improvement.geometry.length) if is_line else NOT_KNOWN


def _area_m2(improvement: Improvement) -> float:
    is_area = improvement.geometry.geom_type == "Polygon"
    return float(improvement.geometry.area) if is_area else NOT_KNOWN


def _measure(improvement: Improvement, before: BlockResult, water: StormWater, improvements: Improvements) -> Measured:
    after = water.result
    found = Measured(improvement=improvement, earth=earth_moved(improvement, before, after))
    if not all_kinds()[improvement.kind].takes_water:
        return found
    cells = cells_of(improvement, after)
    found = dataclasses.replace(found, taken_m3=water.taken_m3(cells), peak_l_s=water.peak_l_s(cells))
    if improvement.kind != Kind.TRENCH_DRAIN:
        return found
    found = dataclasses.replace(found, taken_spread_m3=float(water.spread_m3[cells].sum()))
    drain = trench_drain_of(improvement, after, improvements)
    if drain is None:
        return found
    capacities = find_capacities(drain, criteria=after.criteria)
    return dataclasses.replace(
        found, capacity_l_s=1000.0 * capacities.drain_m3_s, limited_by=str(capacities.limited_by)
    )


def cells_of(improvement: Improvement, after: BlockResult) -> I64:
    """Flat indices of the cells that a trench drain, culvert or moved downspout takes water from."""
    conduits, index = after.surface.conduits, after.surface.structure_index
    links = after.flow.link_cell
    intake = next((each for each in after.block.intakes if each.intake_id == improvement.improvement_id), None)
    if intake is not None:
        cells = intake_cells(intake, after.block, index)
        takes = np.concatenate((links, conduits.sink_cell))
        return np.intersect1d(cells, takes).astype(np.int64)
    if improvement.kind == Kind.CULVERT:
        ends = [
            np.array([inlet, outlet], np.int64)
            for name, inlet, outlet in zip(conduits.name, conduits.inlet, conduits.outlet, strict=True)
            if name == f"{improvement.kind} {improvement.improvement_id}"
        ]
        both = np.concatenate([*ends, np.empty(0, np.int64)])
        return np.intersect1d(both, links).astype(np.int64)
    if improvement.kind == Kind.DOWNSPOUT:
        return _roof_of(improvement, after)
    return np.empty(0, np.int64)


def _roof_of(improvement: Improvement, after: BlockResult) -> I64:
    """Roof cells that come down at a moved downspout: those whose ground cell is nearest to it."""
    spouts, conduits = after.block.downspouts, after.surface.conduits
    spout = spouts[spouts["downspout_id"] == improvement.improvement_id]
    if spout.empty:
        return np.empty(0, np.int64)
    ids = after.block.structures["structure_id"].tolist()
    number = ids.index(spout["structure_id"].iloc[0]) + 1
    is_own = after.surface.structure_index.ravel()[conduits.roof_cell] == number
    roof, target = conduits.roof_cell[is_own], conduits.roof_target[is_own]
    if not target.size:
        return np.empty(0, np.int64)
    grid, place = after.flow.grid, spout.geometry.iloc[0]
    row, col = np.divmod(target, grid.n_cols)
    away = np.hypot(grid.x_of(0) + col * grid.cell_m - place.x, grid.y_of(0) - row * grid.cell_m - place.y)
    own: I64 = roof[target == target[int(away.argmin())]]
    return own
