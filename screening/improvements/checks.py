"""What improvements ask of the ground, of the law and of neighbours: digging, loads, outlets, discharge."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from screening.hydraulics.drain_check import assess_trench_drain
from screening.hydraulics.drain_site import DrainSite, check_site
from screening.hydraulics.rows import CheckRow
from screening.improvements.apply import outlet_of
from screening.improvements.drains import pipe_room, site_of, trench_drain_of
from screening.improvements.measures import LEAST_TAKEN_M3, Measured, columns_of
from screening.models import BlockResult, Improvement, Improvements
from screening.schema.codes.hydraulics import CheckReason
from screening.schema.codes.verdicts import Operator
from screening.schema.columns import IMPROVEMENT_CHECK_COLUMNS, declared_plain
from screening.schema.criteria import Criteria
from screening.schema.work_kinds import Ask, all_kinds

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, kw_only=True)
class ImprovementCheck:
    """One check, and the improvement it is of; empty = of all together."""

    improvement_id: str
    row: CheckRow


def check_improvements(
    measured: tuple[Measured, ...], n_lots_worse: int, after: BlockResult, improvements: Improvements
) -> tuple[ImprovementCheck, ...]:
    """Compare the improvements with the rules for digging, loads, outlets, discharge and neighbours.

    Parameters
    ----------
    measured
        From `measure_improvements`.
    n_lots_worse
        Lots that get more water than the criteria allow.
    after, improvements
        The window with them, and what stands in it.
    """
    found = [ImprovementCheck(improvement_id="", row=_neighbour_row(n_lots_worse))]
    for each in measured:
        rows = _rows(each, after, improvements)
        found += [ImprovementCheck(improvement_id=each.improvement.improvement_id, row=row) for row in rows]
    return tuple(found)


def tabulate_checks(checks: tuple[ImprovementCheck, ...]) -> pd.DataFrame:
    """Make the table of checks: `columns.IMPROVEMENT_CHECK_COLUMNS`."""
    fields = ("check", "statistic", "operator", "threshold", "unit", "outcome", "source", "reasons", "facts")
    rows = [
        {"improvement_id": each.improvement_id, "value": float("nan") if each.row.value is None else each.row.value}
        | {name: getattr(each.row, name) for name in fields}
        for each in checks
    ]
    return declared_plain(rows, IMPROVEMENT_CHECK_COLUMNS)


def _rows(each: Measured, after: BlockResult, improvements: Improvements) -> tuple[CheckRow, ...]:
    """Rows of what the kind of an improvement is asked, in the order of its declaration."""
    kind = all_kinds()[each.improvement.kind]
    rows = tuple(row for ask in kind.asks for row in _ASKED[ask](each, after, improvements))
    return rows if kind.check is None else (*rows, *kind.check(each.improvement, columns_of(each), after))


def _drain_rows(each: Measured, after: BlockResult, improvements: Improvements) -> tuple[CheckRow, ...]:
    """Checks of a trench drain by its own dimensions, or of its place alone where they or its peak are not known."""
    drain = trench_drain_of(each.improvement, after, improvements)
    peak = each.peak_l_s / 1000.0
    if drain is not None and peak == peak:
        return assess_trench_drain(drain, inflow_m3_s=peak, criteria=after.criteria).rows
    return check_site(site_of(each.improvement), channel_depth_m=each.earth.cut_max_m, criteria=after.criteria)


def _dig_rows(each: Measured, after: BlockResult, improvements: Improvements) -> tuple[CheckRow, ...]:
    """The two rules of the dig; a depth that is not known is not assessed."""
    return check_site(DrainSite(), channel_depth_m=each.earth.cut_max_m, criteria=after.criteria)[:2]


def _storage_row(each: Measured) -> CheckRow:
    return CheckRow(
        check="The storage holds what comes to it",
        statistic="taken_m3",
        value=each.taken_m3,
        operator=Operator.AT_MOST,
        threshold=each.improvement.number("volume_m3"),
        unit="m3",
        source="its own volume",
        reasons=(CheckReason.NOT_FOLLOWED,),
    )


def _permission_row(improvement: Improvement, criteria: Criteria) -> CheckRow:
    site = DrainSite(has_discharge_permission=improvement.is_said("has_discharge_permission"))
    return check_site(site, channel_depth_m=0.0, criteria=criteria)[-1]


def _takes_row(each: Measured) -> CheckRow:
    return CheckRow(
        check="It takes water in this storm",
        statistic="taken_m3",
        value=each.taken_m3,
        operator=Operator.AT_LEAST,
        threshold=LEAST_TAKEN_M3,
        unit="m3",
        source="one litre",
        reasons=(CheckReason.BEFORE_HELD_BACK,),
    )


def _fall_rows(improvement: Improvement, after: BlockResult, improvements: Improvements) -> tuple[CheckRow, ...]:
    if outlet_of(improvement, improvements) is None:
        return ()
    length, fall = pipe_room(improvement, after, improvements)
    least = after.criteria.hydraulics.outlet_pipe_slope_min_pct
    return (
        CheckRow(
            check="The ground at the outlet is low enough for a pipe from the drain's invert",
            statistic="fall_m",
            value=fall,
            operator=Operator.AT_LEAST,
            threshold=least / 100.0 * length,
            unit="m",
            source="outlet_pipe_slope_min_pct times the straight distance",
            reasons=() if fall == fall else (CheckReason.NO_DRAIN_DEPTH,),
        ),
    )


def _neighbour_row(n_lots_worse: int) -> CheckRow:
    return CheckRow(
        check="No lot receives more water than before",
        statistic="n_lots",
        value=float(n_lots_worse),
        operator=Operator.AT_MOST,
        threshold=0.0,
        unit="",
        source="improvement_gain_max_m3 and improvement_gain_max_l_s",
        reasons=(CheckReason.NEIGHBOUR_LAND,),
    )


_Rows: TypeAlias = Callable[[Measured, BlockResult, Improvements], tuple[CheckRow, ...]]
_ASKED: dict[Ask, _Rows] = {
    Ask.TAKES_WATER: lambda each, after, improvements: (_takes_row(each),),
    Ask.HOLDS_WATER: lambda each, after, improvements: (_storage_row(each),),
    Ask.PIPE_FALLS: lambda each, after, improvements: _fall_rows(each.improvement, after, improvements),
    Ask.DRAIN_WORKS: _drain_rows,
    Ask.DIG: _dig_rows,
    Ask.PERMISSION: lambda each, after, improvements: (_permission_row(each.improvement, after.criteria),),
}
