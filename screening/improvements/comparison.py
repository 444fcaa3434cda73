"""Before against after: checks, walls, low spots, every lot in the window, and the balance of the water."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from screening.grid import check_same_grid
from screening.improvements.changes import LEAST_CHANGE, Change, tabulate_changes
from screening.improvements.checks import check_improvements, tabulate_checks
from screening.improvements.low_spots import low_spot_changes
from screening.improvements.measures import (
    LEAST_TAKEN_M3,
    Measured,
    measure_improvements,
    tabulate_improvements,
)
from screening.improvements.received import StormWater, received_at_walls, received_by_lots
from screening.models import BlockResult, Comparison, Improvements, Verdict
from screening.schema.codes.improvements import Kind, LotChange, Result, Subject
from screening.schema.codes.verdicts import Outcome
from screening.schema.columns import LOT_CHANGE_COLUMNS, declared

if TYPE_CHECKING:
    import geopandas as gpd

_OUTCOMES = {Outcome.PASSED: 0, Outcome.NOT_ASSESSED: 1, Outcome.FAILED: 2}
_LEADS_ON = (Kind.TRENCH_DRAIN, Kind.CULVERT)
"""Kinds that are of no use where they take nothing."""
_AT_WALLS = (
    ("wall_inflow_m3", "m3", "improvement_gain_max_m3"),
    ("peak_l_s", "l_s", ""),
    ("pond_depth_storm_m", "m", "improvement_deeper_max_m"),
)
"""Numbers of a structure, with the criterion that says how much more of it is a red flag."""
_SCREENED = ("wall_inflow_m3", "peak_l_s", "pond_depth_storm_m")
_AROUND = ("arriving_m3", "", "depth_m")
"""Columns that hold them: of screened structures, and of the others in the window, whose peak is not known."""
_BALANCE = ("rain_m3", "abstracted_m3", "runoff_m3", "ponded_m3", "left_window_m3")


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
    water = StormWater(before), StormWater(after)
    lot_changes = _compare_lots(water, lots)
    measured = measure_improvements(before, water[1], improvements)
    changes = [
        *_lot_changes(lot_changes),
        *_structure_changes(water),
        *low_spot_changes(before, after),
        *_check_changes(before, after),
        *_improvement_changes(measured),
        *_window_changes(water),
    ]
    checks = check_improvements(measured, int(lot_changes["is_red_flag"].sum()), after, improvements)
    return Comparison(
        improvements=tabulate_improvements(measured, improvements.crs),
        table=tabulate_changes(changes),
        lots=lot_changes,
        checks=tabulate_checks(checks),
    )


def _compare_lots(water: tuple[StormWater, StormWater], lots: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    before = water[0].result
    criteria = before.criteria
    first, then = (received_by_lots(each, lots) for each in water)
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
        "result": np.where(grows, LotChange.MORE, np.where(shrinks, LotChange.LESS, LotChange.SAME)),
        "is_red_flag": (more > criteria.improvements.improvement_gain_max_m3)
        | (higher > criteria.improvements.improvement_gain_max_l_s),
        "edge_contaminated": first["is_cut"] | then["is_cut"],
    }
    return declared(columns, LOT_CHANGE_COLUMNS, geometry=lots.geometry, crs=before.block.grid.crs)


def _lot_changes(lots: gpd.GeoDataFrame) -> Iterator[Change]:
    for lot in lots.to_dict("records"):
        for name, unit in (("run_on", "m3"), ("peak", "l_s")):
            change = Change(
                subject_kind=Subject.LOT if lot["is_chosen"] else Subject.NEIGHBOUR,
                subject_id=lot["lot_id"],
                lot_id=lot["lot_id"],
                statistic=f"{name}_{unit}",
                unit=unit,
                before=lot[f"{name}_before_{unit}"],
                after=lot[f"{name}_after_{unit}"],
            )
            is_worse = change.result is Result.WORSE
            yield change.as_told(change.result, is_red_flag=bool(lot["is_red_flag"]) and is_worse)


def _structure_changes(water: tuple[StormWater, StormWater]) -> Iterator[Change]:
    """Litres and depth of water at every structure of the window; of screened ones as their own tables have them."""
    before = water[0].result
    structures = before.block.structures
    ring = [received_at_walls(each) for each in water]
    own = [each.result.structures.set_index("structure_id") for each in water]
    names = zip(structures["structure_id"].tolist(), structures["lot_id"].tolist(), strict=True)
    for number, (structure_id, lot_id) in enumerate(names):
        if structure_id in own[0].index and structure_id in own[1].index:
            rows, fields = [table.loc[structure_id] for table in own], _SCREENED
        else:
            rows, fields = [table.iloc[number] for table in ring], _AROUND
        for (statistic, unit, limit), field in zip(_AT_WALLS, fields, strict=True):
            if not field:
                continue
            values = float(rows[0][field]), float(rows[1][field])
            most = before.criteria.value(limit) if limit else np.inf
            yield Change(
                subject_kind=Subject.STRUCTURE,
                subject_id=structure_id,
                lot_id=lot_id,
                statistic=statistic,
                unit=unit,
                before=values[0],
                after=values[1],
                is_red_flag=values[1] - values[0] > most,
            )


def _check_changes(before: BlockResult, after: BlockResult) -> Iterator[Change]:
    """Check by check: what held and fails, and what failed and holds."""
    then = {_key(verdict): verdict for verdict in after.verdicts}
    for verdict in before.verdicts:
        other = then.get(_key(verdict))
        if other is None:
            continue
        step = _OUTCOMES[other.outcome] - _OUTCOMES[verdict.outcome]
        is_new_flag = other.is_flag and step > 0
        result = Result.WORSE if step > 0 else Result.BETTER if step < 0 else Result.SAME
        if Outcome.NOT_ASSESSED in (verdict.outcome, other.outcome) and step:
            result = Result.WORSE if is_new_flag else Result.NOT_ASSESSED
        yield Change(
            subject_kind=Subject.CHECK,
            subject_id=f"{verdict.subject_kind} {verdict.subject_id or verdict.lot_id}",
            lot_id=verdict.lot_id,
            statistic=verdict.statistic,
            unit=verdict.unit,
            before=_value(verdict),
            after=_value(other),
            is_red_flag=is_new_flag,
            told=result,
            check_id=verdict.check_id,
            outcome_before=verdict.outcome,
            outcome_after=other.outcome,
        )


def _key(verdict: Verdict) -> tuple[str, ...]:
    return verdict.lot_id, verdict.subject_kind, verdict.subject_id, verdict.check_id


def _value(verdict: Verdict) -> float:
    return float("nan") if verdict.value is None else float(verdict.value)


def _improvement_changes(measured: tuple[Measured, ...]) -> Iterator[Change]:
    for each in measured:
        if each.taken_m3 != each.taken_m3:
            continue
        kind = each.improvement.kind
        is_idle = kind in _LEADS_ON and not each.taken_m3 >= LEAST_TAKEN_M3
        is_over = kind == Kind.STORAGE and each.taken_m3 > each.improvement.number("volume_m3")
        is_small = is_over or each.peak_l_s > each.capacity_l_s
        result = Result.TAKES_NOTHING if is_idle else Result.TOO_SMALL if is_small else Result.TAKES_WATER
        yield Change(
            subject_kind=Subject.IMPROVEMENTS,
            subject_id=each.improvement.name,
            lot_id="",
            statistic="taken_m3",
            unit="m3",
            before=0.0,
            after=each.taken_m3,
            is_red_flag=bool(is_idle or is_small),
            told=result,
        )


def _window_changes(water: tuple[StormWater, StormWater]) -> Iterator[Change]:
    """The balance of the water, and how much of it leaves the window elsewhere than before."""
    before, after = (each.result for each in water)
    for name in _BALANCE:
        change = _of_window(name, float(getattr(before.ponding, name)), float(getattr(after.ponding, name)))
        yield change if change.result is Result.SAME else change.as_told(Result.CHANGED)
    off = [each.taken_off_m3() for each in water]
    yield _of_window("taken_off_m3", *off).as_told(Result.SAME if off[0] == off[1] else Result.CHANGED)
    moved = float(np.maximum(water[1].leaving_m3() - water[0].leaving_m3(), 0.0).sum())
    most = before.criteria.improvements.improvement_gain_max_m3
    yield _of_window("moved_m3", 0.0, moved, is_red_flag=moved > most)


def _of_window(statistic: str, before: float, after: float, *, is_red_flag: bool = False) -> Change:
    return Change(
        subject_kind=Subject.WINDOW,
        subject_id="",
        lot_id="",
        statistic=statistic,
        unit="m3",
        before=before,
        after=after,
        is_red_flag=is_red_flag,
    )
