"""Storage against the criteria, as verdict rows. Unknown is never a pass."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from screening.models import Verdict, said
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
    return tuple(
        _row(
            lot_id=lot_id,
            storage_id=storage_id,
            check=f"Full storage empties within {limit:g} h",
            statistic="drawdown_h",
            value=sizing.drawdown_h,
            operator="<=",
            threshold=limit,
            unit="h",
            source=source,
        )
        for limit, source in DRAWDOWN_LIMITS_H.items()
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
    source = sources(criteria)
    who = (lot_id, storage_id)
    rate, owed = sizing.measured_rate_mm_h, "" if below.is_rate_measured else "the rate was not measured on site"
    rows = [
        _row(
            *who,
            "Full storage empties in time",
            "drawdown_h",
            sizing.drawdown_h,
            "<=",
            criteria.storage.drawdown_max_h,
            "h",
            source["drawdown_max_h"],
            owed=owed,
        ),
        _row(
            *who,
            "The ground takes water fast enough",
            "measured_rate_mm_h",
            rate,
            ">=",
            criteria.storage.rate_min_mm_h,
            "mm_h",
            source["rate_min_mm_h"],
            owed=owed,
        ),
        _row(
            *who,
            "The ground takes water no faster than allowed",
            "measured_rate_mm_h",
            rate,
            "<=",
            criteria.storage.rate_max_mm_h,
            "mm_h",
            source["rate_max_mm_h"],
            owed=owed,
        ),
    ]
    for what, depth, name in (
        ("groundwater", below.water_depth_m, "separation_water_m"),
        ("rock", below.rock_depth_m, "separation_rock_m"),
    ):
        apart = None if depth is None else depth - below.base_depth_m
        rows.append(
            _row(
                *who,
                f"The base keeps its distance from {what}",
                name,
                apart,
                ">=",
                criteria.value(name),
                "m",
                source[name],
                unknown=f"the depth to {what} is not known",
            )
        )
    over = sizing.routing.overflow_total_m3
    rows.append(
        _row(
            *who,
            "The storm leaves no overflow",
            "overflow_m3",
            over,
            "<=",
            0.0,
            "m3",
            "the storm that was chosen",
            owed="" if over > 0.0 else owed,
        )
    )
    return tuple(rows)


def _row(
    lot_id: str,
    storage_id: str,
    check: str,
    statistic: str,
    value: float | None,
    operator: Literal["<=", ">="],
    threshold: float,
    unit: str,
    source: str,
    *,
    owed: str = "",
    unknown: str = "",
) -> Verdict:
    if value is None:
        outcome, note = _as_outcome(None), unknown
    else:
        passes = value <= threshold if operator == "<=" else value >= threshold
        outcome, note = _as_outcome(passes, is_owed=bool(owed)), owed
    shown = value if value is not None and math.isfinite(value) else None
    if value is not None and shown is None:
        note = "; ".join(part for part in ("it never empties through the ground", note) if part)
    return Verdict(
        check_id=statistic,
        lot_id=lot_id,
        subject_kind=SubjectKind.STORAGE,
        subject_id=storage_id,
        statistic=statistic,
        value=shown,
        operator=Operator(operator),
        threshold=threshold,
        unit=unit,
        outcome=outcome,
        facts=said(check=check, source=source, note=note),
        aspect=Aspect.REMEDY,
    )


def _as_outcome(passes: bool | None, *, is_owed: bool = False) -> Outcome:
    if passes is None or (passes and is_owed):
        return Outcome.NOT_ASSESSED
    return Outcome.PASSED if passes else Outcome.FAILED
