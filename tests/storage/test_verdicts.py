import pytest

from screening.report.findings import comparison_words
from screening.report.words.verdicts import note_words, row_of
from screening.schema.codes.hydraulics import CheckReason
from screening.schema.criteria import Criteria, choose_profile
from screening.storage.sizing import Soil, try_gallery
from screening.storage.verdicts import Below, judge_drawdown, judge_storage
from tests.storage.storages import bed, inflow

FT, IN = 0.3048, 25.4
WHO = {"lot_id": "A-1", "storage_id": "ST-1"}
KNOWN = Below(base_depth_m=1.5, water_depth_m=2.3, rock_depth_m=3.0, is_rate_measured=True)


def sizing(rate_mm_h=0.5 * IN, flow=(1.0, 2.0)):
    return try_gallery(inflow(*flow), bed(depth_m=3 * FT), Soil(rate_mm_h, 2.0))


def said(verdict):
    return dict(verdict.facts)


def outcomes(verdicts):
    return {verdict.statistic + verdict.operator: verdict.outcome for verdict in verdicts}


def test_57_6_hours_fail_48_and_pass_72():
    # 36 in at 0.4 and 0.5 in/h with a factor of 2: 57.6 h (New Jersey ch. 9.3; arithmetic).
    rows = judge_drawdown(sizing(), **WHO)
    assert [(row.threshold, row.outcome) for row in rows] == [(24.0, "failed"), (48.0, "failed"), (72.0, "passed")]
    assert all(row.value == pytest.approx(57.6) for row in rows)
    assert "July 2010" in said(rows[1])["source"] and "New Jersey" in said(rows[2])["source"]
    assert "common practice" in said(rows[0])["source"]


def test_the_profile_decides_the_outcome_and_is_the_source():
    neutral = judge_storage(sizing(), KNOWN, criteria=Criteria(), **WHO)
    jersey = judge_storage(sizing(), KNOWN, criteria=choose_profile("new-jersey-2016"), **WHO)
    assert outcomes(neutral)["drawdown_h<="] == "failed" and outcomes(jersey)["drawdown_h<="] == "passed"
    # 0.8 m apart: less than 3 ft, more than 2 ft.
    assert outcomes(neutral)["separation_water_m>="] == "failed"
    assert outcomes(jersey)["separation_water_m>="] == "passed"
    assert said(jersey[0])["source"].startswith("New Jersey Stormwater BMP Manual") and jersey[0].threshold == 72.0


def test_unknown_is_never_a_pass():
    rows = judge_storage(sizing(0.6 * IN), Below(base_depth_m=1.5), criteria=choose_profile("new-jersey-2016"), **WHO)
    assert set(outcomes(rows).values()) == {"not assessed"}
    assert {row.reasons for row in rows} == {
        (CheckReason.RATE_NOT_MEASURED,),
        (CheckReason.WATER_DEPTH_UNKNOWN,),
        (CheckReason.ROCK_DEPTH_UNKNOWN,),
    }
    # What is too slow by a table is too slow without a test too.
    slow = judge_storage(sizing(0.2 * IN), Below(base_depth_m=1.5), criteria=Criteria(), **WHO)
    assert outcomes(slow)["measured_rate_mm_h>="] == "failed"


@pytest.mark.parametrize(
    ("rate_in_h", "slow", "fast"),
    [(0.49, "failed", "passed"), (0.5, "passed", "passed"), (10, "passed", "passed"), (10.1, "passed", "failed")],
)
def test_rates_from_half_an_inch_to_ten(rate_in_h, slow, fast):
    found = outcomes(judge_storage(sizing(rate_in_h * IN), KNOWN, criteria=Criteria(), **WHO))
    assert (found["measured_rate_mm_h>="], found["measured_rate_mm_h<="]) == (slow, fast)


def test_overflow_and_sealed_ground():
    over = judge_storage(sizing(flow=(50.0,)), KNOWN, criteria=Criteria(), **WHO)[-1]
    assert over.outcome == "failed" and over.value > 40.0
    sealed = judge_storage(sizing(0.0), KNOWN, criteria=Criteria(), **WHO)[0]
    assert (sealed.outcome, sealed.value) == ("failed", None)
    assert sealed.reasons == (CheckReason.NEVER_EMPTIES,)
    assert note_words(row_of(sealed), Criteria()) == "it never empties through the ground"


def test_rows_read_as_words():
    rows = judge_storage(sizing(), KNOWN, criteria=Criteria(), **WHO)
    assert comparison_words(rows[0], "metric") == "drawdown h: 58 h (required: at most 48 h)"
    assert comparison_words(rows[1], "us").endswith("0.50 in/h (required: at least 0.50 in/h)")
