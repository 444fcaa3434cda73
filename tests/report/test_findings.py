from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest

from screening.models import BlockResult, Rain, RainfallTable, Trust, Verdict
from screening.report.findings import (
    background_words,
    clip_text,
    comparison_words,
    format_cell,
    label_with_unit,
    outcome_words,
    rain_words,
    sort_verdicts,
)
from screening.schema.codes.verdicts import Aspect, Confidence, Operator, Outcome, SubjectKind, VerdictReason
from screening.schema.columns import SUMMARY_COLUMNS, Column
from screening.schema.criteria import Criteria, sources
from screening.storm.rainfall_tables import rain_of_depth

VERDICT = Verdict(
    check_id="standing_water",
    lot_id="A-1",
    subject_kind=SubjectKind.STRUCTURE,
    subject_id="S-1",
    statistic="pond_depth_full_m",
    value=0.4,
    operator=Operator.BELOW,
    threshold=0.1,
    unit="m",
    outcome=Outcome.FAILED,
    reasons=(VerdictReason.DEEPEST_AT_SIDE,),
    facts=(("pond_side", "south"),),
)
CRITERIA = Criteria()
SOURCE = sources(CRITERIA)["low_spot_min_depth_m"]
AREA = Column(name="area_m2", kind="number", unit="m2", label="Lot area", meaning="")


def test_comparison_in_both_unit_systems() -> None:
    assert comparison_words(VERDICT, "metric") == "Depth at the wall, full: 0.40 m (required: below 0.10 m)"
    assert comparison_words(VERDICT, "us") == "Depth at the wall, full: 1.3 ft (required: below 0.3 ft)"


@pytest.mark.parametrize(
    ("value", "words"),
    [(0.104, "just over 0.10 m"), (0.096, "just under 0.10 m"), (0.1, "0.10 m"), (None, "not assessed")],
)
def test_a_value_that_rounds_to_its_threshold(value: float | None, words: str) -> None:
    verdict = dataclasses.replace(VERDICT, value=value)
    assert comparison_words(verdict, "metric") == f"Depth at the wall, full: {words} (required: below 0.10 m)"


def test_a_unit_that_is_not_converted_is_written_as_it_is() -> None:
    verdict = dataclasses.replace(
        VERDICT, statistic="n_tests", unit="tests", value=2.0, threshold=3.0, operator=Operator.AT_LEAST
    )
    assert comparison_words(verdict, "us") == "n tests: 2 tests (required: at least 3 tests)"


def test_background_names_question_note_and_source() -> None:
    expected = f"Asked: water does not stand against a structure. Deepest at the south side. Threshold: {SOURCE}."
    assert background_words(VERDICT, CRITERIA) == expected


def test_a_finding_within_elevation_error_is_said_to_be_so() -> None:
    holds = Trust(code=Confidence.HOLDS, frac=0.92, n_counted=46, n_realisations=50)
    sure = dataclasses.replace(VERDICT, trust=holds)
    unsure = dataclasses.replace(
        VERDICT, trust=dataclasses.replace(holds, code=Confidence.WITHIN_ERROR, frac=0.46, n_counted=23)
    )
    assert outcome_words(sure) == ("flagged", "failed")
    assert background_words(sure, CRITERIA).endswith(f"Threshold: {SOURCE}. Confidence: holds in 46 of 50.")
    assert outcome_words(unsure) == ("flagged, within elevation error", "failed")
    assert background_words(unsure, CRITERIA).endswith("Confidence: within elevation error (holds in 23 of 50).")


def test_a_check_that_was_not_made_says_why() -> None:
    verdict = dataclasses.replace(
        VERDICT, statistic="", reasons=(VerdictReason.LAYER_NOT_GIVEN,), facts=(("layers", "structures"),)
    )
    assert comparison_words(verdict, "metric") == "no structure layer was given"
    assert background_words(verdict, CRITERIA) == "Asked: water does not stand against a structure."


@pytest.mark.parametrize(
    ("outcome", "aspect", "words"),
    [
        ("failed", "problem", ("flagged", "failed")),
        ("passed", "problem", ("not flagged", "passed")),
        ("not assessed", "problem", ("not assessed", "not assessed")),
        ("failed", "remedy", ("none found", "passed")),
        ("passed", "remedy", ("candidate", "passed")),
        ("not assessed", "remedy", ("not assessed", "not assessed")),
    ],
)
def test_outcomes_in_words(outcome: str, aspect: str, words: tuple[str, str]) -> None:
    assert outcome_words(dataclasses.replace(VERDICT, outcome=Outcome(outcome), aspect=Aspect(aspect))) == words


def test_flags_come_first_and_unknown_before_passed(tiny_result: BlockResult) -> None:
    outcomes = [(v.outcome, v.aspect) for v in sort_verdicts(tiny_result.verdicts)]
    assert outcomes == [
        ("failed", "problem"),
        ("not assessed", "problem"),
        ("passed", "problem"),
        ("failed", "remedy"),
    ]


@pytest.mark.parametrize("value", [None, np.nan, pd.NA, np.float32("nan")])
def test_an_unknown_number_is_never_zero(value: object) -> None:
    assert format_cell(value, AREA, "metric") == "not assessed"


@pytest.mark.parametrize(
    ("kind", "value", "text"),
    [
        ("number", 1234.5, "1,234 m²"),
        ("count", 3, "3 m²"),
        ("flag", np.False_, "no"),
        ("flag", pd.NA, "not assessed"),
        ("text", None, ""),
        ("text", "oak", "oak"),
    ],
)
def test_cells(kind: str, value: object, text: str) -> None:
    assert format_cell(value, dataclasses.replace(AREA, kind=kind), "metric") == text  # type: ignore[arg-type]


def test_labels_carry_the_unit_that_is_shown() -> None:
    area = next(column for column in SUMMARY_COLUMNS if column.name == "area_m2")
    assert label_with_unit(area, "metric") == "Lot area (m²)"
    assert label_with_unit(area, "us") == "Lot area (sq ft)"


def test_long_text_is_cut_with_a_mark() -> None:
    assert clip_text("abcdef", 4) == "abc…"
    assert clip_text("abcd", 4) == "abcd"


TABLE = RainfallTable(durations_h=(24.0,), return_periods_yr=(2.0, 10.0), depth_mm=((60.0, 100.0),), source="invented")


@pytest.mark.parametrize(
    ("rain", "words"),
    [
        (Rain(depth_mm=50.8, label="10yr-24h", source="a table"), "10yr-24h, 51 mm"),
        (Rain(depth_mm=51.0, label="51 mm", source="typed depth"), "51 mm"),
        (Rain(depth_mm=50.8, label="10yr-24h", source="a table", is_assumed=True), "10yr-24h, 51 mm, assumed"),
        (Rain(depth_mm=50.8, label="assumed depth", source="criteria", is_assumed=True), "assumed depth, 51 mm"),
        (rain_of_depth(100.0, TABLE), "stated depth, 100 mm, in 24 h about every 10 years"),
        (rain_of_depth(40.0, TABLE), "stated depth, 40 mm, in 24 h more often than every 2 years"),
    ],
)
def test_a_rain_nobody_asked_for_says_so(rain: Rain, words: str) -> None:
    assert rain_words(rain, "metric") == words
