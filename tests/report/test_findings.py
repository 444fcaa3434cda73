from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest

from screening.models import BlockResult, Rain, RainfallTable, Verdict
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
from screening.schema.columns import SUMMARY_COLUMNS, Column
from screening.storm.rainfall_tables import rain_of_depth

VERDICT = Verdict(
    lot_id="A-1",
    subject_kind="structure",
    subject_id="S-1",
    check="Water does not stand against it",
    statistic="pond_depth_full_m",
    value=0.4,
    operator="<",
    threshold=0.1,
    unit="m",
    source="a handbook",
    outcome="failed",
    note="a low spot reaches it",
)
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
    verdict = dataclasses.replace(VERDICT, statistic="n_tests", unit="tests", value=2.0, threshold=3.0, operator=">=")
    assert comparison_words(verdict, "us") == "n tests: 2 tests (required: at least 3 tests)"


def test_background_names_question_note_and_source() -> None:
    expected = "Asked: water does not stand against it. A low spot reaches it. Threshold: a handbook."
    assert background_words(VERDICT) == expected


def test_a_finding_within_elevation_error_is_said_to_be_so() -> None:
    sure = dataclasses.replace(VERDICT, confidence_frac=0.92, confidence="holds in 46 of 50")
    unsure = dataclasses.replace(VERDICT, confidence_frac=0.46, confidence="within elevation error (holds in 23 of 50)")
    assert outcome_words(sure) == ("flagged", "failed")
    assert background_words(sure).endswith("Threshold: a handbook. Confidence: holds in 46 of 50.")
    assert outcome_words(unsure) == ("flagged, within elevation error", "failed")
    assert background_words(unsure).endswith("Confidence: within elevation error (holds in 23 of 50).")


def test_a_check_that_was_not_made_says_why() -> None:
    verdict = dataclasses.replace(VERDICT, statistic="", note="no structure layer was given", source="")
    assert comparison_words(verdict, "metric") == "no structure layer was given"
    assert background_words(verdict) == "Asked: water does not stand against it."


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
    assert outcome_words(dataclasses.replace(VERDICT, outcome=outcome, aspect=aspect)) == words  # type: ignore[arg-type]


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
