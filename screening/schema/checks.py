"""Every check once: what is compared with what, when it can be judged, what it weighs, and what is said of it.

A check stands nowhere else: verdict rows, scores, the main finding, page, brief and visit sheet follow from here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, TypeAlias

from screening.errors import CriteriaError
from screening.schema.codes.verdicts import Aspect, Operator, Outcome, SubjectKind, VerdictReason
from screening.schema.columns.kinds import Column
from screening.schema.columns.structures import STRUCTURE_COLUMNS
from screening.schema.columns.tables import DRIVEWAY_COLUMNS, SUMMARY_COLUMNS
from screening.schema.criteria import thresholds
from screening.schema.extensions import added_columns, extensions

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


_BEYOND = Remark(
    reason=VerdictReason.FROM_BEYOND,
    is_due=lambda judged: judged.row["context_area_m2"] > 0 and judged.value > 0,
    facts=("context_area_m2", "context_cell_m"),
)
_CUT = Remark(reason=VerdictReason.EDGE_CUT, is_due=lambda judged: judged.is_cut)
# The columns that the words of a structure's exposure are made from.
_EXPOSURE_FACTS = (
    "lowest_adjacent_grade_m",
    "pond_depth_full_m",
    "contributing_area_m2",
    "has_enclosed_courtyard",
    "fall_away_pct",
    "fall_required_pct",
    "fall_error_pct",
    "fall_away_side",
)

BUILT_IN: tuple[Check, ...] = (
    Check(
        check_id="standing_water",
        subject=SubjectKind.STRUCTURE,
        quantity="pond_depth_full_m",
        operator=Operator.BELOW,
        threshold="low_spot_min_depth_m",
        asks="Water does not stand against a structure",
        finding="Water stands against {subject_id} when a low spot fills",
        order=10,
        unknown_where=("exposure", "not assessed"),
        weight="weight_standing_water",
        failed_frac="ponding_frac",
        stands_on_low_spot=True,
        is_told_with_exposure=True,
        remarks=(
            Remark(
                reason=VerdictReason.EXPOSURE_NOT_ASSESSED,
                is_due=lambda judged: judged.is_unknown,
                facts=_EXPOSURE_FACTS,
            ),
            Remark(reason=VerdictReason.DEEPEST_AT_SIDE, is_due=lambda judged: judged.value > 0, facts=("pond_side",)),
        ),
    ),
    Check(
        check_id="driveway_to_wall",
        subject=SubjectKind.DRIVEWAY,
        quantity="to_structure_frac",
        operator=Operator.AT_MOST,
        threshold="driveway_to_structure_flag_frac",
        asks="The driveway sheds away from walls",
        finding="Driveway {subject_id} sheds toward a wall",
        order=20,
        weight="weight_driveway",
        remarks=(Remark(reason=VerdictReason.NO_ELEVATION, is_due=lambda judged: judged.value != judged.value),),
    ),
    Check(
        check_id="run_on_to_walls",
        subject=SubjectKind.STRUCTURE,
        quantity="contributing_area_m2",
        operator=Operator.BELOW,
        threshold="structure_area_flag_m2",
        asks="Little ground drains to a structure's walls",
        finding="Ground uphill drains to the walls of {subject_id}",
        order=30,
        lower_bound_where="edge_contaminated",
        unknown_where=("exposure", "not assessed"),
        weight="weight_run_on",
        failed_frac="run_on_frac",
        is_told_with_exposure=True,
        remarks=(
            Remark(
                reason=VerdictReason.EXPOSURE_NOT_ASSESSED,
                is_due=lambda judged: judged.is_unknown and not judged.is_cut,
                facts=_EXPOSURE_FACTS,
            ),
            Remark(
                reason=VerdictReason.MOST_AT_SIDE,
                is_due=lambda judged: not judged.is_unknown and not judged.is_cut,
                facts=("inflow_side",),
            ),
            _BEYOND,
            _CUT,
        ),
    ),
    Check(
        check_id="fall_away",
        subject=SubjectKind.STRUCTURE,
        quantity="fall_away_pct",
        operator=Operator.AT_LEAST,
        threshold="fall_required_pct",
        is_per_row=True,
        source="fall_away_min_pct",
        asks="The ground falls away from a structure's walls",
        finding="The ground does not fall away from {subject_id} (indicative)",
        order=40,
        error="fall_error_pct",
        weight="weight_fall_away",
        is_told_with_exposure=True,
        is_indicative=True,
        remarks=(
            Remark(
                reason=VerdictReason.FALL_NOT_MEASURED,
                is_due=lambda judged: judged.row["fall_error_pct"] != judged.row["fall_error_pct"],
            ),
            Remark(
                reason=VerdictReason.INSIDE_ERROR,
                is_due=lambda judged: _margin(judged) < judged.row["fall_error_pct"],
                facts=("fall_away_side", "fall_error_pct"),
            ),
            Remark(
                reason=VerdictReason.BEYOND_ERROR,
                is_due=lambda judged: (
                    not _margin(judged) < judged.row["fall_error_pct"]
                    and judged.row["fall_error_pct"] == judged.row["fall_error_pct"]
                ),
                facts=("fall_away_side", "fall_error_pct"),
            ),
        ),
    ),
    Check(
        check_id="off_lot_area",
        subject=SubjectKind.LOT,
        quantity="off_lot_area_m2",
        operator=Operator.BELOW,
        threshold="off_lot_area_flag_m2",
        asks="Little ground outside the lot drains onto it",
        finding="Water from outside crosses the lot",
        finding_walls_clear="Water from outside crosses the lot, away from its walls",
        order=50,
        lower_bound_where="edge_contaminated",
        weight="weight_off_lot",
        remarks=(_BEYOND, _CUT),
    ),
    Check(
        check_id="infiltration_ground",
        subject=SubjectKind.LOT,
        quantity="infiltration_area_m2",
        operator=Operator.AT_LEAST,
        threshold="infiltration_min_area_m2",
        asks="The lot has ground that may take water",
        finding="No ground of the lot may take water",
        order=60,
        open_where=("infiltration_status", "not assessed"),
        aspect=Aspect.REMEDY,
        remarks=(
            Remark(
                reason=VerdictReason.RULES_LIMIT,
                is_due=lambda judged: judged.outcome is not Outcome.PASSED,
                facts=("infiltration_why",),
            ),
            Remark(reason=VerdictReason.TESTS_OWED, is_due=lambda judged: judged.outcome is Outcome.PASSED),
        ),
    ),
)


def _margin(judged: Judged) -> float:
    return float(abs(judged.row["fall_away_pct"] - judged.row["fall_required_pct"]))


@cache
def all_checks() -> tuple[Check, ...]:
    """List the checks in their order: those of the toolkit and of extensions.

    Raises
    ------
    CriteriaError
        Two have one id, or one names a column or a criterion that is not there.
    """
    added = [check for extension in extensions() for check in extension.checks]
    for check in added:
        _check_names(check)
    found = sorted((*BUILT_IN, *added), key=lambda check: check.order)
    ids = [check.check_id for check in found]
    if len(set(ids)) < len(ids):
        raise CriteriaError(
            "Two checks have one id",
            got=", ".join(sorted({name for name in ids if ids.count(name) > 1})),
            expected="an id of its own for each",
            mend="rename the check in the extension",
        )
    return tuple(found)


def _check_names(check: Check) -> None:
    """Refuse a check that names a column or a criterion that is not there."""
    known = {column.name for column in columns_of(check.subject)}
    columns = [check.quantity, *([check.threshold] if check.is_per_row else [])]
    criteria = [name for name in (check.source, check.weight) if name]
    lost = [name for name in columns if name not in known]
    lost += [name for name in [*criteria, *([] if check.is_per_row else [check.threshold])] if name not in thresholds()]
    if lost:
        raise CriteriaError(
            f"The check {check.check_id} names what is not there",
            got=", ".join(lost),
            expected=f"columns of a {check.subject} and names of criteria",
            mend="correct it in the extension",
        )


def columns_of(subject: SubjectKind) -> tuple[Column, ...]:
    """List the columns of a subject's rows, those that extensions add included."""
    return (*SUBJECT_COLUMNS[subject], *(added.column for added in added_columns(SUBJECT_TABLE[subject])))


@cache
def checks_by_id() -> Mapping[str, Check]:
    """Map the checks by their ids."""
    return {check.check_id: check for check in all_checks()}


@cache
def checks_of(subject: SubjectKind) -> tuple[Check, ...]:
    """List the checks of one kind of subject, in their order."""
    return tuple(check for check in all_checks() if check.subject is subject)
