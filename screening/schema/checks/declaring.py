"""What a check is, and the tables whose rows are judged."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

from screening.schema.codes.verdicts import Aspect, Operator, Outcome, SubjectKind, VerdictReason
from screening.schema.columns.kinds import Column
from screening.schema.columns.structures import STRUCTURE_COLUMNS
from screening.schema.columns.tables import DRIVEWAY_COLUMNS, SUMMARY_COLUMNS
from screening.schema.extensions import added_columns

Row: TypeAlias = Mapping[str, Any]

SUBJECT_COLUMNS: dict[SubjectKind, tuple[Column, ...]] = {
    SubjectKind.LOT: SUMMARY_COLUMNS,
    SubjectKind.STRUCTURE: STRUCTURE_COLUMNS,
    SubjectKind.DRIVEWAY: DRIVEWAY_COLUMNS,
}
"""Columns of the tables whose rows are judged, in the order in which a lot's verdicts stand."""
SUBJECT_TABLE = {
    SubjectKind.LOT: "summary",
    SubjectKind.STRUCTURE: "structures",
    SubjectKind.DRIVEWAY: "driveways",
}
"""Names of those tables."""
SUBJECT_ID = {
    SubjectKind.LOT: "lot_id",
    SubjectKind.STRUCTURE: "structure_id",
    SubjectKind.DRIVEWAY: "driveway_id",
}
"""Column of those tables that names the subject."""
SUBJECT_LAYER = {SubjectKind.STRUCTURE: "structures", SubjectKind.DRIVEWAY: "driveways"}
"""Layer without which there can be no subjects of a kind."""


def columns_of(subject: SubjectKind) -> tuple[Column, ...]:
    """List the columns of a subject's rows, those that extensions add included."""
    return (*SUBJECT_COLUMNS[subject], *(added.column for added in added_columns(SUBJECT_TABLE[subject])))


@dataclass(frozen=True, kw_only=True)
class Judged:
    """One row as a check found it.

    Parameters
    ----------
    row
        Columns of the subject.
    value
        What was compared; NaN where it is not known.
    outcome
        How it came out.
    is_cut
        The value is a lower bound.
    is_unknown
        The row says that its value means nothing.
    """

    row: Row
    value: float
    outcome: Outcome
    is_cut: bool
    is_unknown: bool


@dataclass(frozen=True, kw_only=True)
class Remark:
    """What to know beside a verdict: its code, when it is due, and the columns that its words are made from."""

    reason: VerdictReason
    is_due: Callable[[Judged], bool]
    facts: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Check:
    """One check.

    Parameters
    ----------
    check_id
        Its name in tables.
    subject
        What is judged: a row of its table.
    quantity
        Column of that table; its unit is the check's.
    operator, threshold
        The check passes where `quantity operator threshold` holds. The threshold is a criterion by its flat name, or
        with `is_per_row` a column of the row.
    source
        Criterion whose source is told; the threshold's own if empty.
    needs
        Layers that must be given for it.
    lower_bound_where
        Column that is true where the value may be larger: it can fail an upper limit then, but not pass it.
    error
        Column of the error of the value: what is nearer to the threshold is not assessed.
    unknown_where, open_where
        Column and code of rows whose value means nothing, and of rows whose value stands but settles nothing.
    weight
        Criterion that its points are multiplied by; 1 if empty.
    aspect, is_indicative
        Whether it looks for a problem, and whether the data can prove one.
    asks
        What is asked, in words that hold when it passes.
    finding
        The sentence of a lot's main finding, with `{subject_id}`.
    finding_walls_clear
        Of a check of the lot: the sentence where nothing that stands on the lot is flagged; `finding` if empty.
    failed_frac
        Column of structures for the share of the realisations of elevation error in which it fails.
    stands_on_low_spot
        A failure is no surer than the structure's low spot.
    is_told_with_exposure
        The words of a structure's exposure say it already.
    order
        Of the verdicts of one subject, and of findings of equal points: small first.
    remarks
        What is said beside it.
    """

    check_id: str
    subject: SubjectKind
    quantity: str
    operator: Operator
    threshold: str
    asks: str
    finding: str
    order: int = 100
    source: str = ""
    is_per_row: bool = False
    needs: tuple[str, ...] = ()
    lower_bound_where: str = ""
    error: str = ""
    unknown_where: tuple[str, str] | None = None
    open_where: tuple[str, str] | None = None
    weight: str = ""
    aspect: Aspect = Aspect.PROBLEM
    is_indicative: bool = False
    finding_walls_clear: str = ""
    failed_frac: str = ""
    stands_on_low_spot: bool = False
    is_told_with_exposure: bool = False
    remarks: tuple[Remark, ...] = ()

    @property
    def unit(self) -> str:
        """SI unit of value and threshold: that of the column."""
        return next(column.unit for column in columns_of(self.subject) if column.name == self.quantity)
