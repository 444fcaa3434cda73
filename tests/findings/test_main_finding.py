"""The weightiest failed check is the main finding; what it says follows from its declaration."""

import dataclasses

import pytest

from screening.errors import CriteriaError
from screening.findings.main_finding import LotState, find_main
from screening.models import Trust, Verdict
from screening.report.words.summary import main_finding_words
from screening.schema.checks import BUILT_IN, all_checks, checks_by_id
from screening.schema.checks import _check_names as check_names
from screening.schema.codes.verdicts import Confidence, MainFinding, Operator, Outcome, SubjectKind

STATE = LotState(has_elevation=True, n_low_spots=0, low_spots_within_error=False, structure_rank={"H": 2, "G": 1})
UNSURE = Trust(code=Confidence.WITHIN_ERROR, frac=0.5, n_counted=5, n_realisations=10)


def failed(check_id, subject_id="L", value=2.0, **fields):
    """A failed check with as many points as its value over a threshold of 1."""
    check = checks_by_id()[check_id]
    return Verdict(
        check_id=check_id,
        lot_id="L",
        subject_kind=check.subject,
        subject_id=subject_id,
        statistic=check.quantity,
        value=value,
        operator=Operator.BELOW,
        threshold=1.0,
        unit=check.unit,
        outcome=Outcome.FAILED,
        aspect=check.aspect,
        **fields,
    )


def words(*verdicts, **state):
    row = find_main(verdicts, dataclasses.replace(STATE, **state))
    return main_finding_words(row)


def test_most_points_win_whatever_the_order():
    pond, area = failed("standing_water", "H", 2.0), failed("run_on_to_walls", "H", 3.0)
    assert words(pond, area) == words(area, pond) == "Ground uphill drains to the walls of H"
    assert words(dataclasses.replace(pond, weight=2.0), area) == "Water stands against H when a low spot fills"


def test_of_equal_points_the_first_check_then_the_most_exposed_structure():
    # Both capped at 5 points.
    area, pond = failed("run_on_to_walls", "G", 90.0), failed("standing_water", "H", 70.0)
    assert words(area, pond) == "Water stands against H when a low spot fills"
    assert words(pond, failed("standing_water", "G", 60.0)) == "Water stands against G when a low spot fills"


def test_walls_are_called_clear_only_where_they_are():
    off_lot = failed("off_lot_area", value=4.0)
    assert words(off_lot) == "Water from outside crosses the lot, away from its walls"
    assert words(off_lot, failed("driveway_to_wall", "D")) == "Water from outside crosses the lot"


def test_a_remedy_that_was_not_found_is_no_main_finding():
    assert words(failed("infiltration_ground", value=0.1)) == "Nothing flagged"


def test_doubts_and_what_is_said_where_nothing_failed():
    assert words(failed("off_lot_area", trust=UNSURE)).endswith("away from its walls, within elevation error")
    assert words(n_low_spots=1) == "A low spot holds water away from the walls"
    assert words(n_low_spots=1, low_spots_within_error=True).endswith("the walls, within elevation error")
    passed = dataclasses.replace(failed("off_lot_area"), outcome=Outcome.PASSED, trust=UNSURE)
    unknown = dataclasses.replace(passed, outcome=Outcome.NOT_ASSESSED, trust=Trust())
    assert words(passed) == "Nothing flagged; some checks within elevation error"
    assert words(unknown, passed) == "Nothing flagged; some checks not assessed or within elevation error"
    row = find_main([failed("off_lot_area")], dataclasses.replace(STATE, has_elevation=False))
    assert row["main_code"] == MainFinding.NO_ELEVATION


def test_checks_name_columns_and_criteria_that_are_there():
    for check in BUILT_IN:
        check_names(check)
        assert check.asks[0].isupper() and check.unit
    assert [check.order for check in all_checks()] == sorted(check.order for check in all_checks())
    wrong = dataclasses.replace(BUILT_IN[0], quantity="pond_depth_ft", threshold="no_such_limit_m")
    with pytest.raises(CriteriaError, match="names what is not there") as caught:
        check_names(wrong)
    assert "pond_depth_ft, no_such_limit_m" in str(caught.value)
    assert {check.subject for check in BUILT_IN} == {SubjectKind.LOT, SubjectKind.STRUCTURE, SubjectKind.DRIVEWAY}
