"""What each improvement takes and moves, and what it asks of the ground and of the law."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.flow.dispersive import accumulate_weight
from screening.grid import cells_along, rasterize
from screening.hydraulics.channel import Channel
from screening.hydraulics.drain_check import assess_trench_drain
from screening.hydraulics.drain_site import DrainSite, check_site
from screening.hydraulics.grates import Grate
from screening.hydraulics.outlet import OutletPipe
from screening.hydraulics.rows import CheckRow
from screening.hydraulics.sections import TrenchSection
from screening.hydraulics.trench_drain import TrenchDrain, find_capacities
from screening.improvements.apply import outlet_of
from screening.improvements.received import own_runoff_m3, peak_at_l_s, taken_m3
from screening.models import F64, I64, BlockResult, Improvement, Improvements
from screening.schema.columns import IMPROVEMENT_CHECK_COLUMNS, IMPROVEMENT_COLUMNS, declared, declared_plain
from screening.schema.criteria import Criteria
from screening.schema.work_kinds import Ask, Effect, all_kinds
from screening.terrain.intakes import intake_cells

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

_NO_NUMBER = float("nan")
LEAST_TAKEN_M3 = 0.001
"""Less than this, a litre, an improvement takes nothing."""


def measure_improvements(
    before: BlockResult, after: BlockResult, improvements: Improvements, through_m3: F64
) -> gpd.GeoDataFrame:
    """Measure what each improvement takes in the storm, what it could take, and the ground it moves.

    Parameters
    ----------
    before, after
        Of the same window.
    improvements
        Those that stand in `after`.
    through_m3
        Runoff along `after`, float64 (n_cells,) [m3].

    Returns
    -------
    `columns.IMPROVEMENT_COLUMNS` and the improvements' shapes; what cannot be told is NaN.
    """
    spread = _spread_m3(after) if any(intake.line is not None for intake in after.block.intakes) else None
    rows = [
        _measure(improvement, before, after, improvements, through_m3, spread) for improvement in improvements.items
    ]
    for row, improvement in zip(rows, improvements.items, strict=True):
        if improvement.kind == "storage":
            coming = [other["taken_m3"] for other in rows if other["leads_to"] == improvement.improvement_id]
            row["taken_m3"] = float(sum(coming))
    return declared(
        rows,
        IMPROVEMENT_COLUMNS,
        geometry=[improvement.geometry for improvement in improvements.items],
        crs=improvements.crs,
    )


def _measure(
    improvement: Improvement,
    before: BlockResult,
    after: BlockResult,
    improvements: Improvements,
    through_m3: F64,
    spread_m3: F64 | None,
) -> dict[str, Any]:
    cells = cells_of(improvement, after)
    row: dict[str, Any] = dict.fromkeys(
        (column.name for column in IMPROVEMENT_COLUMNS if column.kind == "number"), _NO_NUMBER
    )
    row |= {
        "improvement_id": improvement.improvement_id,
        "kind": improvement.kind.replace("_", " "),
        "leads_to": improvement.word("to"),
        "limited_by": "",
        "height_m": improvement.number("height_m"),
        "depth_m": improvement.number("depth_m"),
        "slope_pct": improvement.number("slope_pct"),
        "volume_m3": improvement.number("volume_m3"),
    }
    if improvement.geometry.geom_type == "LineString":
        row["length_m"] = improvement.geometry.length
    if improvement.geometry.geom_type == "Polygon":
        row["area_m2"] = improvement.geometry.area
    if all_kinds()[improvement.kind].takes_water:
        row["taken_m3"] = taken_m3(after, cells, through_m3) if cells.size else 0.0
        row["peak_l_s"] = peak_at_l_s(after, cells)
    if improvement.kind == "trench_drain" and spread_m3 is not None:
        row["taken_spread_m3"] = float(spread_m3[cells].sum())
        drain = trench_drain_of(improvement, after, improvements)
        if drain is not None:
            capacities = find_capacities(drain, criteria=after.criteria)
            row |= {"capacity_l_s": 1000.0 * capacities.drain_m3_s, "limited_by": capacities.limited_by}
    return row | _earth_moved(improvement, before, after)


def cells_of(improvement: Improvement, after: BlockResult) -> I64:
    """Flat indices of the cells that a trench drain, culvert or moved downspout takes water from."""
    conduits, index = after.surface.conduits, after.surface.structure_index
    links = after.flow.link_cell
    intake = next((each for each in after.block.intakes if each.intake_id == improvement.improvement_id), None)
    if intake is not None:
        cells = intake_cells(intake, after.block, index)
        takes = np.concatenate((links, conduits.sink_cell))
        return np.intersect1d(cells, takes).astype(np.int64)
    if improvement.kind == "culvert":
        ends = [
            np.array([inlet, outlet], np.int64)
            for name, inlet, outlet in zip(conduits.name, conduits.inlet, conduits.outlet, strict=True)
            if name == f"{improvement.kind} {improvement.improvement_id}"
        ]
        both = np.concatenate([*ends, np.empty(0, np.int64)])
        return np.intersect1d(both, links).astype(np.int64)
    if improvement.kind == "downspout":
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


def _spread_m3(result: BlockResult) -> F64:
    """Storm runoff through each cell where it spreads over lower cells, flat [m3]."""
    own = own_runoff_m3(result).reshape(result.flow.grid.shape)
    return accumulate_weight(result.flow, own, method=result.flow.dispersive_method).ravel()


def _earth_moved(improvement: Improvement, before: BlockResult, after: BlockResult) -> dict[str, float]:
    if improvement.kind == "trench_drain":
        deepest = improvement.number("cut_depth_m")
        return {"cut_max_m": deepest if deepest == deepest else improvement.number("depth_m")}
    if improvement.kind == "culvert":
        return {"cut_max_m": _culvert_cut_m(improvement, before)}
    if improvement.kind in ("berm", "wall", "swale"):
        own = after.surface.changes[after.surface.changes["source_id"] == improvement.improvement_id]
        if own.empty:
            return {}
        return {"cut_max_m": float(own["cut_max_m"].max()), "fill_max_m": float(own["raised_max_m"].max())}
    if all_kinds()[improvement.kind].effect not in (Effect.REGRADE, Effect.OWN):
        return {}
    inside = rasterize(before.flow.grid, [improvement.geometry], [1]) > 0
    rise = (after.block.elev_m.astype(np.float64) - before.block.elev_m)[inside]
    rise, area = rise[np.isfinite(rise)], before.flow.grid.cell_area_m2
    return {
        "cut_max_m": float(max(-rise.min(initial=0.0), 0.0)),
        "fill_max_m": float(rise.max(initial=0.0)),
        "cut_m3": float(-rise[rise < 0].sum() * area),
        "fill_m3": float(rise[rise > 0].sum() * area),
    }


def _culvert_cut_m(improvement: Improvement, before: BlockResult) -> float:
    """Deepest ground above the straight line between a culvert's inverts; NaN without both."""
    if "cut_depth_m" in improvement.numbers:
        return improvement.number("cut_depth_m")
    row, col = cells_along(before.flow.grid, improvement.geometry, closed=False).T
    ground = before.surface.elev_m[row, col].astype(np.float64)
    level = np.linspace(improvement.number("invert_up_m"), improvement.number("invert_down_m"), ground.size)
    above = ground - level
    return float(np.nanmax(above)) if np.isfinite(above).any() else _NO_NUMBER


def trench_drain_of(improvement: Improvement, after: BlockResult, improvements: Improvements) -> TrenchDrain | None:
    """A trench drain by its own dimensions; None where width, depth or grate are not given."""
    width, depth, open_frac = (improvement.number(key) for key in ("width_m", "depth_m", "grate_open_frac"))
    if not (width > 0 and depth > 0 and open_frac > 0):
        return None
    length = improvement.geometry.length
    slope = np.nan_to_num(improvement.number("channel_slope_pct")) / 100.0
    return TrenchDrain(
        channel=Channel(
            section=TrenchSection(width, width, depth),
            length_m=length,
            invert_slope=float(slope),
            grate_slope=float(slope),
        ),
        grate=Grate(width_m=width, length_m=length, open_frac=open_frac),
        pipe=_outlet_pipe(improvement, after, improvements),
        site=_site_of(improvement),
    )


def _outlet_pipe(improvement: Improvement, after: BlockResult, improvements: Improvements) -> OutletPipe | None:
    """The straight pipe from the nearer end of a drain to its outlet on the ground; None where either is unknown."""
    outlet, diameter = outlet_of(improvement, improvements), improvement.number("pipe_diameter_m")
    if outlet is None or not diameter > 0:
        return None
    length, fall = _pipe_room(improvement, after, improvements)
    return OutletPipe(diameter_m=diameter, length_m=max(length, 0.1), fall_m=fall) if fall == fall else None


def _pipe_room(improvement: Improvement, after: BlockResult, improvements: Improvements) -> tuple[float, float]:
    """Length of a drain's outlet pipe, and its fall from the drain's lowest invert to the ground at the outlet [m]."""
    outlet, grid = outlet_of(improvement, improvements), after.flow.grid
    if outlet is None:
        return _NO_NUMBER, _NO_NUMBER
    row, col = cells_along(grid, improvement.geometry, closed=True).T
    ground = after.surface.elev_m
    lowest = float(np.nanmin(ground[row, col], initial=np.inf))
    at = int((grid.north_m - outlet.y) // grid.cell_m), int((outlet.x - grid.west_m) // grid.cell_m)
    return float(improvement.geometry.distance(outlet)), lowest - improvement.number("depth_m") - float(ground[at])


def _site_of(improvement: Improvement) -> DrainSite:
    cut = improvement.number("cut_depth_m")
    return DrainSite(
        cut_depth_m=cut if cut == cut else None,
        use=improvement.word("use") or None,  # type: ignore[arg-type]
        load_class=improvement.word("load_class") or None,
        has_overflow_path=improvement.is_said("has_overflow_path"),
        has_discharge_permission=improvement.is_said("has_discharge_permission"),
    )


def check_improvements(
    measured: gpd.GeoDataFrame, lots: gpd.GeoDataFrame, after: BlockResult, improvements: Improvements
) -> pd.DataFrame:
    """Compare the improvements with the rules for digging, loads, outlets, discharge and neighbours.

    Parameters
    ----------
    measured, lots
        From `measure_improvements`, and the lots with what comes to them (`columns.LOT_CHANGE_COLUMNS`).
    after, improvements
        As for `measure_improvements`.

    Returns
    -------
    `columns.IMPROVEMENT_CHECK_COLUMNS`.
    """
    rows: list[dict[str, Any]] = [_as_row("", _neighbour_row(lots))]
    for improvement, row in zip(improvements.items, measured.to_dict("records"), strict=True):
        rows += [_as_row(improvement.improvement_id, check) for check in _checks(improvement, row, after, improvements)]
    return declared_plain(rows, IMPROVEMENT_CHECK_COLUMNS)


def _checks(
    improvement: Improvement, row: dict[str, Any], after: BlockResult, improvements: Improvements
) -> list[CheckRow]:
    """Rows of what the kind of an improvement is asked, in the order of its declaration."""
    kind = all_kinds()[improvement.kind]
    rows = [check for ask in kind.asks for check in _ROWS[ask](improvement, row, after, improvements)]
    return rows if kind.check is None else [*rows, *kind.check(improvement, row, after)]


def _drain_rows(
    improvement: Improvement, row: dict[str, Any], after: BlockResult, improvements: Improvements
) -> list[CheckRow]:
    """Checks of a trench drain by its own dimensions, or of its place alone where they or its peak are not known."""
    drain = trench_drain_of(improvement, after, improvements)
    peak = float(row["peak_l_s"]) / 1000.0
    if drain is not None and peak == peak:
        return [*assess_trench_drain(drain, inflow_m3_s=peak, criteria=after.criteria).rows]
    return [*check_site(_site_of(improvement), channel_depth_m=float(row["cut_max_m"]), criteria=after.criteria)]


def _dig_rows(
    improvement: Improvement, row: dict[str, Any], after: BlockResult, improvements: Improvements
) -> list[CheckRow]:
    return [*check_site(DrainSite(), channel_depth_m=float(row["cut_max_m"]), criteria=after.criteria)[:2]]


def _permission_row(improvement: Improvement, criteria: Criteria) -> CheckRow:
    site = DrainSite(has_discharge_permission=improvement.is_said("has_discharge_permission"))
    return check_site(site, channel_depth_m=0.0, criteria=criteria)[-1]


def _takes_row(row: dict[str, Any]) -> CheckRow:
    taken, note = float(row["taken_m3"]), "before any is held back above it"
    return CheckRow(
        check="It takes water in this storm",
        statistic="taken_m3",
        value=taken,
        operator=">=",
        threshold=LEAST_TAKEN_M3,
        unit="m3",
        source="one litre",
        note=note,
    )


def _fall_rows(improvement: Improvement, after: BlockResult, improvements: Improvements) -> list[CheckRow]:
    if outlet_of(improvement, improvements) is None:
        return []
    length, fall = _pipe_room(improvement, after, improvements)
    least = after.criteria.hydraulics.outlet_pipe_slope_min_pct
    note = "" if fall == fall else "without the drain's depth its fall is not known"
    text = "The ground at the outlet is low enough for a pipe from the drain's invert"
    source = "outlet_pipe_slope_min_pct times the straight distance"
    return [
        CheckRow(
            check=text,
            statistic="fall_m",
            value=fall,
            operator=">=",
            threshold=least / 100.0 * length,
            unit="m",
            source=source,
            note=note,
        )
    ]


def _storage_row(row: dict[str, Any]) -> CheckRow:
    return CheckRow(
        check="The storage holds what comes to it",
        statistic="taken_m3",
        value=float(row["taken_m3"]),
        operator="<=",
        threshold=float(row["volume_m3"]),
        unit="m3",
        source="its own volume",
        note="what it cannot hold is not followed further: it needs a safe way on",
    )


def _neighbour_row(lots: gpd.GeoDataFrame) -> CheckRow:
    return CheckRow(
        check="No lot receives more water than before",
        statistic="n_lots",
        value=float(lots["is_red_flag"].sum()),
        operator="<=",
        threshold=0.0,
        unit="",
        source="improvement_gain_max_m3 and improvement_gain_max_l_s",
        note="water may not be sent onto neighbouring land without permission (local law)",
    )


def _as_row(improvement_id: str, check: CheckRow) -> dict[str, Any]:
    value = _NO_NUMBER if check.value is None else check.value
    return {
        "improvement_id": improvement_id,
        "check": check.check,
        "statistic": check.statistic,
        "value": value,
        "operator": check.operator,
        "threshold": check.threshold,
        "unit": check.unit,
        "outcome": check.outcome,
        "source": check.source,
        "note": check.note,
    }


Rows = Callable[[Improvement, dict[str, Any], BlockResult, Improvements], list[CheckRow]]
_ROWS: dict[Ask, Rows] = {
    Ask.TAKES_WATER: lambda improvement, row, after, improvements: [_takes_row(row)],
    Ask.HOLDS_WATER: lambda improvement, row, after, improvements: [_storage_row(row)],
    Ask.PIPE_FALLS: lambda improvement, row, after, improvements: _fall_rows(improvement, after, improvements),
    Ask.DRAIN_WORKS: _drain_rows,
    Ask.DIG: _dig_rows,
    Ask.PERMISSION: lambda improvement, row, after, improvements: [_permission_row(improvement, after.criteria)],
}
