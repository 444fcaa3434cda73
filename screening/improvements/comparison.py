"""Before against after: checks, walls, low spots, every lot in the window, and the balance of the water."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from screening.grid import check_same_grid
from screening.improvements.measures import LEAST_TAKEN_M3, check_improvements, measure_improvements
from screening.improvements.received import left_at_m3, received_at_walls, received_by_lots, runoff_along_m3
from screening.models import F64, BlockResult, Comparison, Improvements, Verdict
from screening.schema.checks import checks_by_id
from screening.schema.codes.verdicts import Outcome
from screening.schema.columns import COMPARISON_COLUMNS, LOT_CHANGE_COLUMNS, declared, declared_plain

if TYPE_CHECKING:
    import geopandas as gpd

LEAST_CHANGE: dict[str, float] = {"m3": 0.001, "l_s": 0.01, "m": 0.001, "m2": 0.5, "pct": 0.05, "frac": 0.005, "": 0.0}
"""Differences up to this much are called the same: less than tables show."""
_OUTCOMES = {Outcome.PASSED: 0, Outcome.NOT_ASSESSED: 1, Outcome.FAILED: 2}


def compare_improvements(
    before: BlockResult, after: BlockResult, improvements: Improvements, *, lots: gpd.GeoDataFrame
) -> Comparison:
    """Compare a block with itself after improvements.

    Parameters
    ----------
    before, after
        Screened on one window, by the same criteria and rain.
    improvements
        Those that stand in `after`.
    lots
        `lot_id` and polygons of every lot that meets the window, screened or not.

    Returns
    -------
    What changes; a red flag where something gets worse by more than `improvement_gain_max_m3`,
    `improvement_gain_max_l_s` or `improvement_deeper_max_m`, or a check that held fails.

    Raises
    ------
    GridMismatchError
        The two lie on different windows.
    """
    check_same_grid(before.flow.grid, after.flow.grid, what="The block after the improvements")
    through = runoff_along_m3(before), runoff_along_m3(after)
    lot_changes = _compare_lots(before, after, lots, through)
    measured = measure_improvements(before, after, improvements, through[1])
    rows = [
        *_lot_rows(lot_changes),
        *_structure_rows(before, after, through),
        *_low_spot_rows(before, after),
        *_verdict_rows(before, after),
        *_improvement_rows(measured),
        *_window_rows(before, after, through),
    ]
    checks = check_improvements(measured, lot_changes, after, improvements)
    return Comparison(
        improvements=measured, table=declared_plain(rows, COMPARISON_COLUMNS), lots=lot_changes, checks=checks
    )


def _compare_lots(
    before: BlockResult, after: BlockResult, lots: gpd.GeoDataFrame, through: tuple[F64, F64]
) -> gpd.GeoDataFrame:
    criteria = before.criteria
    first, then = (received_by_lots(r, lots, t) for r, t in zip((before, after), through, strict=True))
    more, higher = then["run_on_m3"] - first["run_on_m3"], then["peak_l_s"] - first["peak_l_s"]
    grows = (more > LEAST_CHANGE["m3"]) | (higher > LEAST_CHANGE["l_s"])
    shrinks = (more < -LEAST_CHANGE["m3"]) | (higher < -LEAST_CHANGE["l_s"])
    columns = {
        "lot_id": lots["lot_id"].to_numpy(),
        "is_chosen": np.isin(lots["lot_id"].to_numpy().astype(str), before.block.lots["lot_id"].to_numpy().astype(str)),
        "run_on_before_m3": first["run_on_m3"],
        "run_on_after_m3": then["run_on_m3"],
        "run_on_difference_m3": more,
        "peak_before_l_s": first["peak_l_s"],
        "peak_after_l_s": then["peak_l_s"],
        "peak_difference_l_s": higher,
        "result": np.where(grows, "more water", np.where(shrinks, "less water", "the same")),
        "is_red_flag": (more > criteria.improvements.improvement_gain_max_m3)
        | (higher > criteria.improvements.improvement_gain_max_l_s),
        "edge_contaminated": first["is_cut"] | then["is_cut"],
    }
    return declared(columns, LOT_CHANGE_COLUMNS, geometry=lots.geometry, crs=before.block.grid.crs)


def _lot_rows(lots: gpd.GeoDataFrame) -> Iterator[dict[str, Any]]:
    for lot in lots.to_dict("records"):
        kind = "lot" if lot["is_chosen"] else "neighbour"
        red = bool(lot["is_red_flag"])
        for what, name, unit in (("Run-on", "run_on", "m3"), ("Peak onto the lot", "peak", "l_s")):
            row = _row(
                kind=kind,
                subject_id=lot["lot_id"],
                lot_id=lot["lot_id"],
                what=what,
                statistic=f"{name}_{unit}",
                unit=unit,
                before=lot[f"{name}_before_{unit}"],
                after=lot[f"{name}_after_{unit}"],
            )
            yield row | {"is_red_flag": red and row["result"] == "worse"}


def _structure_rows(before: BlockResult, after: BlockResult, through: tuple[F64, F64]) -> Iterator[dict[str, Any]]:
    """Litres and depth of water at every structure of the window; of screened ones as their own tables have them."""
    criteria, structures = before.criteria, before.block.structures
    ring = [received_at_walls(r, t) for r, t in zip((before, after), through, strict=True)]
    own = [r.structures.set_index("structure_id") for r in (before, after)]
    for number, (structure_id, lot_id) in enumerate(
        zip(structures["structure_id"].tolist(), structures["lot_id"].tolist(), strict=True)
    ):
        is_screened = structure_id in own[0].index and structure_id in own[1].index
        arriving = [float(table["arriving_m3"].iloc[number]) for table in ring]
        depth = [float(table["depth_m"].iloc[number]) for table in ring]
        if is_screened:
            arriving = [float(table.loc[structure_id, "wall_inflow_m3"]) for table in own]
            depth = [float(table.loc[structure_id, "pond_depth_storm_m"]) for table in own]
        shared = "structure", structure_id, lot_id
        gain = arriving[1] - arriving[0] > criteria.improvements.improvement_gain_max_m3
        yield _row(*shared, "Water at the walls", "wall_inflow_m3", "m3", *arriving, red=gain)
        if is_screened:
            peaks = [float(table.loc[structure_id, "peak_l_s"]) for table in own]
            yield _row(*shared, "Peak at the walls", "peak_l_s", "l_s", *peaks)
        deeper = depth[1] - depth[0] > criteria.improvements.improvement_deeper_max_m
        yield _row(*shared, "Water standing at the walls", "pond_depth_storm_m", "m", *depth, red=deeper)


def _low_spot_rows(before: BlockResult, after: BlockResult) -> Iterator[dict[str, Any]]:
    """Outermost low spots, each with the one that lies most on it after the improvements; those that come and go."""
    first, then = (r.depressions.table[r.depressions.table["part_of"] == ""] for r in (before, after))
    partner = _partners(first, then)
    limit = before.criteria.improvements.improvement_deeper_max_m
    for number, spot in enumerate(first.to_dict("records")):
        other = then.iloc[partner[number]] if partner[number] >= 0 else None
        for what, name, unit in (("Water left standing", "ponded_m3", "m3"), ("Its depth", "storm_depth_m", "m")):
            held = float(spot[name]), 0.0 if other is None else float(other[name])
            red = unit == "m" and held[1] - held[0] > limit
            row = _row("low spot", spot["low_spot_id"], spot["lot_id"], what, name, unit, *held, red=red)
            if spot["lot_id"] or row["result"] != "same" or other is None:
                yield row | ({"result": "gone"} if other is None else {})
    for number, spot in enumerate(then.to_dict("records")):
        if number in partner:
            continue
        for what, name, unit in (("Water left standing", "ponded_m3", "m3"), ("Its depth", "storm_depth_m", "m")):
            red = unit == "m" and float(spot[name]) > limit
            row = _row(
                kind="low spot",
                subject_id=spot["low_spot_id"],
                lot_id=spot["lot_id"],
                what=what,
                statistic=name,
                unit=unit,
                before=0.0,
                after=float(spot[name]),
                red=red,
            )
            yield row | {"result": "new"}


def _partners(first: gpd.GeoDataFrame, then: gpd.GeoDataFrame) -> list[int]:
    """Row of `then` that lies most on each row of `first`, -1 where none does; each is taken once."""
    import shapely

    if not len(first) or not len(then):
        return [-1] * len(first)
    one, other = first.geometry.to_numpy(), then.geometry.to_numpy()
    a, b = shapely.STRtree(other).query(one, predicate="intersects")
    shared = shapely.area(shapely.intersection(one[a], other[b]))
    partner, taken = [-1] * len(first), set()
    for place in np.lexsort((b, a, -shared)).tolist():
        if shared[place] > 0 and partner[a[place]] < 0 and b[place] not in taken:
            partner[a[place]] = int(b[place])
            taken.add(b[place])
    return partner


def _verdict_rows(before: BlockResult, after: BlockResult) -> Iterator[dict[str, Any]]:
    """Check by check: what held and fails, and what failed and holds."""
    then = {_key(verdict): verdict for verdict in after.verdicts}
    for verdict in before.verdicts:
        other = then.get(_key(verdict))
        if other is None:
            continue
        step = _OUTCOMES[other.outcome] - _OUTCOMES[verdict.outcome]
        is_new_flag = other.is_flag and step > 0
        subject = verdict.subject_id or verdict.lot_id
        row = _row(
            kind="check",
            subject_id=f"{verdict.subject_kind} {subject}",
            lot_id=verdict.lot_id,
            what=checks_by_id()[verdict.check_id].asks,
            statistic=verdict.statistic,
            unit=verdict.unit,
            before=_value(verdict),
            after=_value(other),
            red=is_new_flag,
        )
        result = "worse" if step > 0 else "better" if step < 0 else "same"
        if Outcome.NOT_ASSESSED in (verdict.outcome, other.outcome) and step:
            result = "worse" if is_new_flag else "not assessed"
        yield row | {
            "outcome_before": str(verdict.outcome),
            "outcome_after": str(other.outcome),
            "result": result,
        }


def _key(verdict: Verdict) -> tuple[str, ...]:
    return verdict.lot_id, verdict.subject_kind, verdict.subject_id, verdict.check_id


def _value(verdict: Verdict) -> float:
    return float("nan") if verdict.value is None else float(verdict.value)


def _improvement_rows(improvements: gpd.GeoDataFrame) -> Iterator[dict[str, Any]]:
    for improvement in improvements.to_dict("records"):
        if improvement["taken_m3"] != improvement["taken_m3"]:
            continue
        name = f"{improvement['kind']} {improvement['improvement_id']}"
        row = _row(
            kind="improvements",
            subject_id=name,
            lot_id="",
            what="Takes",
            statistic="taken_m3",
            unit="m3",
            before=0.0,
            after=float(improvement["taken_m3"]),
        )
        nothing = improvement["kind"] in ("trench drain", "culvert") and not improvement["taken_m3"] >= LEAST_TAKEN_M3
        over = improvement["kind"] == "storage" and improvement["taken_m3"] > improvement["volume_m3"]
        small = improvement["peak_l_s"] > improvement["capacity_l_s"]
        result = "takes nothing" if nothing else "too small" if over or small else "takes water"
        yield row | {"result": result, "is_red_flag": bool(nothing or over or small)}


def _window_rows(before: BlockResult, after: BlockResult, through: tuple[F64, F64]) -> Iterator[dict[str, Any]]:
    """The balance of the water, and how much of it leaves the window elsewhere than before."""
    balance = (
        ("Rain", "rain_m3"),
        ("Taken up by the ground", "abstracted_m3"),
        ("Runoff", "runoff_m3"),
        ("Left standing", "ponded_m3"),
        ("Left the window or taken off the ground", "left_window_m3"),
    )
    for what, name in balance:
        values = float(getattr(before.ponding, name)), float(getattr(after.ponding, name))
        row = _row("window", "", "", what, name, "m3", *values)
        yield row | {"result": "same" if row["result"] == "same" else "changed"}
    off = [float(t[r.surface.conduits.sink_cell].sum()) for r, t in zip((before, after), through, strict=True)]
    yield _row("window", "", "", "Taken off the ground, nothing held back", "taken_off_m3", "m3", *off) | {
        "result": "same" if off[0] == off[1] else "changed"
    }
    edge = [left_at_m3(r, t) for r, t in zip((before, after), through, strict=True)]
    moved = float(np.maximum(edge[1] - edge[0], 0.0).sum())
    red = moved > before.criteria.improvements.improvement_gain_max_m3
    row = _row(
        kind="window",
        subject_id="",
        lot_id="",
        what="Leaves the window where less left it before",
        statistic="moved_m3",
        unit="m3",
        before=0.0,
        after=moved,
        red=red,
    )
    yield row


def _row(
    kind: str,
    subject_id: str,
    lot_id: str,
    what: str,
    statistic: str,
    unit: str,
    before: float,
    after: float,
    *,
    red: bool = False,
) -> dict[str, Any]:
    """One number that is better when it is less."""
    difference, least = after - before, LEAST_CHANGE.get(unit, 0.0)
    result = "same" if abs(difference) <= least else "worse" if difference > 0 else "better"
    if pd.isna(difference):
        result = "same" if pd.isna(before) and pd.isna(after) else "not assessed"
    return {
        "subject_kind": kind,
        "subject_id": subject_id,
        "lot_id": lot_id,
        "what": what,
        "statistic": statistic,
        "unit": unit,
        "before": before,
        "after": after,
        "difference": difference,
        "outcome_before": "",
        "outcome_after": "",
        "result": result,
        "is_red_flag": bool(red),
    }
