"""The checks of the toolkit."""

from __future__ import annotations

from screening.schema.checks.declaring import Check, Judged, Remark
from screening.schema.codes.verdicts import Aspect, Operator, Outcome, SubjectKind, VerdictReason


def _margin(judged: Judged) -> float:
    return float(abs(judged.row["fall_away_pct"] - judged.row["fall_required_pct"]))


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
                facts=("infiltration_limits",),
            ),
            Remark(reason=VerdictReason.TESTS_OWED, is_due=lambda judged: judged.outcome is Outcome.PASSED),
        ),
    ),
)
