"""Numbers of the comparison: one value before and after, and whether that is better or worse."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from screening.schema.codes.improvements import Result, Subject
from screening.schema.columns import COMPARISON_COLUMNS, declared_plain

if TYPE_CHECKING:
    import pandas as pd

LEAST_CHANGE: dict[str, float] = {"m3": 0.001, "l_s": 0.01, "m": 0.001, "m2": 0.5, "pct": 0.05, "frac": 0.005, "": 0.0}
"""Differences up to this much are called the same: less than tables show."""


@dataclass(frozen=True, kw_only=True)
class Change:
    """One number before and after: columns of `columns.COMPARISON_COLUMNS`.

    Parameters
    ----------
    subject_kind, subject_id, lot_id
        What it is of.
    statistic, unit
        Name of the number, and its unit.
    before, after
        NaN = not known.
    is_red_flag
        It gets worse by more than the criteria allow.
    told
        How it comes out where that does not follow from the numbers alone.
    check_id, outcome_before, outcome_after
        Of a check.
    """

    subject_kind: Subject
    subject_id: str
    lot_id: str
    statistic: str
    unit: str
    before: float
    after: float
    is_red_flag: bool = False
    told: Result | None = None
    check_id: str = ""
    outcome_before: str = ""
    outcome_after: str = ""

    @property
    def difference(self) -> float:
        """After less before."""
        return self.after - self.before

    @property
    def result(self) -> Result:
        """How it comes out: a number is better when it is less."""
        if self.told is not None:
            return self.told
        if self.difference != self.difference:
            # Unknown before and after is no change.
            both = self.before != self.before and self.after != self.after
            return Result.SAME if both else Result.NOT_ASSESSED
        if abs(self.difference) <= LEAST_CHANGE.get(self.unit, 0.0):
            return Result.SAME
        return Result.WORSE if self.difference > 0 else Result.BETTER

    def as_told(self, result: Result, *, is_red_flag: bool | None = None) -> Change:
        """The same with a result of its own."""
        return replace(self, told=result, is_red_flag=self.is_red_flag if is_red_flag is None else is_red_flag)


_FIELDS = (
    "subject_kind",
    "subject_id",
    "lot_id",
    "statistic",
    "unit",
    "before",
    "after",
    "difference",
    "outcome_before",
    "outcome_after",
    "result",
    "is_red_flag",
    "check_id",
)


def tabulate_changes(changes: list[Change]) -> pd.DataFrame:
    """Make the table of the comparison: `columns.COMPARISON_COLUMNS`."""
    columns: dict[str, list[object]] = {name: [getattr(change, name) for change in changes] for name in _FIELDS}
    return declared_plain(columns, COMPARISON_COLUMNS)
