"""Storage against the criteria, as verdict rows. Unknown is never a pass."""

from __future__ import annotations

import math
from dataclasses import dataclass

from screening.hydraulics.rows import CheckRow
from screening.models import Verdict, said
from screening.schema.codes.hydraulics import CheckReason
from screening.schema.codes.verdicts import Aspect, Operator, Outcome, SubjectKind
from screening.schema.criteria import COMMON_PRACTICE, PROFILES, Criteria, sources
from screening.storage.sizing import Sizing

DRAWDOWN_LIMITS_H: dict[float, str] = {
    24.0: COMMON_PRACTICE,
    48.0: PROFILES["single-family-2010"].document,
    72.0: PROFILES["new-jersey-2016"].document,
}
"""Times in which storage is asked to empty, by who asks; the criteria say which one counts."""


@dataclass(frozen=True, kw_only=True)
class Below:
    """What lies under the base of the storage, as far as anyone measured.

    Parameters
    ----------
    base_depth_m
        From the ground to the base.
    water_depth_m, rock_depth_m
        From the ground to seasonally high groundwater and to rock; None = not known.
    is_rate_measured
        False where the rate is that of a soil map or a table.
    """

    base_depth_m: float
    water_depth_m: float | None = None
    rock_depth_m: float | None = None
    is_rate_measured: bool = False


def judge_drawdown(sizing: Sizing, *, lot_id: str, storage_id: str) -> tuple[Verdict, ...]:
    """Compare the time of emptying with 24, 48 and 72 h, whatever the criteria ask."""
    rows = (
        CheckRow(
            check=f"Full storage empties within {limit:g} h",
            statistic="drawdown_h",
            value=sizing.drawdown_h,
            operator=Operator.AT_MOST,
            threshold=limit,
            unit="h",
            source=source,
            reasons=_never_empties(sizing),
        )
        for limit, source in DRAWDOWN_LIMITS_H.items()
    )
    return tuple(
        remedy_verdict(row, lot_id=lot_id, subject_kind=SubjectKind.STORAGE, subject_id=storage_id) for row in rows
    )


def judge_storage(
    sizing: Sizing, below: Below, *, lot_id: str, storage_id: str, criteria: Criteria
) -> tuple[Verdict, ...]:
    """Compare storage with the criteria.

    Parameters
    ----------
    sizing
        The storage and the storm in it.
    below
        What lies under it.
    lot_id, storage_id
        Subject of the rows.
    criteria
        `drawdown_max_h`, `rate_min_mm_h`, `rate_max_mm_h`, `separation_water_m`, `separation_rock_m`.

    Returns
    -------
    Rows on drawdown, rate, separation and overflow; a rate that was not measured can fail, but not pass.
    """
    rows = (*_rate_rows(sizing, below, criteria), *_separation_rows(below, criteria), _overflow_row(sizing, below))
    return tuple(
        remedy_verdict(row, lot_id=lot_id, subject_kind=SubjectKind.STORAGE, subject_id=storage_id) for row in rows
    )


def _owed(below: Below) -> tuple[CheckReason, ...]:
    return () if below.is_rate_measured else (CheckReason.RATE_NOT_MEASURED,)


def _never_empties(sizing: Sizing) -> tuple[CheckReason, ...]:
    return () if math.isfinite(sizing.drawdown_h) else (CheckReason.NEVER_EMPTIES,)


def _rate_rows(sizing: Sizing, below: Below, criteria: Criteria) -> list[CheckRow]:
    source, owed = sources(criteria), _owed(below)
    rate = sizing.measured_rate_mm_h

    def row(check: str, statistic: str, value: float, operator: Operator, name: str, *, unit: str) -> CheckRow:
        return CheckRow(
            check=check,
            statistic=statistic,
            value=value,
            operator=operator,
            threshold=criteria.value(name),
            unit=unit,
            source=source[name],
            reasons=(*(() if math.isfinite(value) else (CheckReason.NEVER_EMPTIES,)), *owed),
            is_owed=bool(owed),
        )

    least, most, named = Operator.AT_LEAST, Operator.AT_MOST, "measured_rate_mm_h"
    takes, empties = "The ground takes water", "Full storage empties in time"
    return [
        row(empties, "drawdown_h", sizing.drawdown_h, most, "drawdown_max_h", unit="h"),
        row(f"{takes} fast enough", named, rate, least, "rate_min_mm_h", unit="mm_h"),
        row(f"{takes} no faster than allowed", named, rate, most, "rate_max_mm_h", unit="mm_h"),
    ]


def _separation_rows(below: Below, criteria: Criteria) -> list[CheckRow]:
    source = sources(criteria)
    return [
        CheckRow(
            check=f"The base keeps its distance from {what}",
            statistic=name,
            value=None if depth is None else depth - below.base_depth_m,
            operator=Operator.AT_LEAST,
            threshold=criteria.value(name),
            unit="m",
            source=source[name],
            reasons=(unknown,) if depth is None else (),
        )
        for what, depth, name, unknown in (
            ("groundwater", below.water_depth_m, "separation_water_m", CheckReason.WATER_DEPTH_UNKNOWN),
            ("rock", below.rock_depth_m, "separation_rock_m", CheckReason.ROCK_DEPTH_UNKNOWN),
        )
    ]


def _overflow_row(sizing: Sizing, below: Below) -> CheckRow:
    over = sizing.routing.overflow_total_m3
    owed = () if over > 0.0 else _owed(below)
    return CheckRow(
        check="The storm leaves no overflow",
        statistic="overflow_m3",
        value=over,
        operator=Operator.AT_MOST,
        threshold=0.0,
        unit="m3",
        source="the storm that was chosen",
        reasons=owed,
        is_owed=bool(owed),
    )


def remedy_verdict(row: CheckRow, *, lot_id: str, subject_kind: SubjectKind, subject_id: str) -> Verdict:
    """Give a check of a remedy, such as storage or a drain, as a verdict of its subject.

    Parameters
    ----------
    row
        The check.
    lot_id, subject_kind, subject_id
        What was judged.
    """
    return Verdict(
        check_id=row.statistic,
        lot_id=lot_id,
        subject_kind=subject_kind,
        subject_id=subject_id,
        statistic=row.statistic,
        value=None if row.value is None or not math.isfinite(row.value) else float(row.value),
        operator=Operator(row.operator),
        threshold=row.threshold,
        unit=row.unit,
        outcome=Outcome(row.outcome),
        reasons=row.reasons,
        facts=(*said(check=row.check, source=row.source), *row.facts),
        aspect=Aspect.REMEDY,
    )
