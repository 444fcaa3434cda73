"""Sentences of structures, low spots and driveways, made from rows by hand."""

import math

import pytest

from screening.models import ShedShare
from screening.report.words import tellers
from screening.report.words.depressions import return_words
from screening.report.words.driveways import sheds_lines
from screening.report.words.sides import wall_words
from screening.report.words.structures import wetting_words
from screening.schema.codes.depressions import Returns
from screening.schema.codes.driveways import ShapeLimit, ShedsTo
from screening.schema.codes.storm import PeakCode
from screening.schema.codes.structures import Side
from screening.schema.columns import TABLES
from screening.schema.criteria import Criteria


def returns(code, years=math.nan):
    return {"threshold_return_code": code.value, "threshold_return_bound_yr": years}


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (returns(Returns.WITHIN_TABLE, 4.87), "about every 4.9 years"),
        (returns(Returns.WITHIN_TABLE, 1.004), "about every year"),
        (returns(Returns.MORE_OFTEN, 1.0), "more often than every year"),
        (returns(Returns.LESS_OFTEN, 1000.0), "less often than every 1000 years"),
        (returns(Returns.NOT_KNOWN), ""),
    ],
)
def test_how_often_a_rain_comes(row, words):
    assert return_words(row) == words


def test_the_rain_that_wets_a_wall():
    row = {"threshold_rainfall_mm": 115.0} | returns(Returns.WITHIN_TABLE, 12.0)
    assert wetting_words(row, "wets them", "metric") == "115 mm of rain wets them, which comes about every 12 years"
    assert wetting_words(row | returns(Returns.NOT_KNOWN), "wets them", "us") == "4.53 in of rain wets them"
    assert wetting_words(row | {"threshold_rainfall_mm": math.nan}, "wets them", "metric") == ""


def test_sides_have_an_article_where_they_are_known():
    assert [wall_words(side) for side in (Side.SOUTH_WEST, Side.ALL, "")] == [
        "the south-west side",
        "its walls",
        "its walls",
    ]


def test_where_a_driveway_sheds():
    shares = (
        ShedShare(is_own=True, sheds_to=None, to_id="", frac=0.06),
        ShedShare(is_own=True, sheds_to=ShedsTo.STREET, to_id="", frac=0.3),
        ShedShare(is_own=True, sheds_to=ShedsTo.GARAGE, to_id="G. 1", frac=0.6),
        ShedShare(is_own=True, sheds_to=ShedsTo.LAWN, to_id="", frac=0.04),
        ShedShare(is_own=False, sheds_to=ShedsTo.STREET_OR_NEIGHBOUR, to_id="", frac=1.0),
    )
    # The largest first; shares under 5 % are not told; an id with a full stop in it breaks no line.
    assert sheds_lines(shares) == [
        "Own rain: 60% to garage G. 1, 30% to the street, 6% stays on it",
        "Run-on: 100% to beyond the lot",
    ]
    assert sheds_lines(()) == []


def told(table, column, row):
    return tellers()[table, column](row, Criteria(), "metric")


def test_what_limits_a_driveway_and_its_peak():
    limits = ((ShapeLimit.FEW_CELLS, 8.0), (ShapeLimit.BENT, math.nan), (ShapeLimit.PART_LEFT_OUT, 0.25))
    assert told("driveways", "shape_note", {"shape_limits": limits}) == (
        "small: 8 cells; bent or of several arms: one long and one cross slope stand for all of it; "
        "25% of it under a structure or without elevation is left out"
    )
    assert told("driveways", "shape_note", {"shape_limits": ((ShapeLimit.NOT_ASKED, math.nan),)}) == ""
    peak = {"peak_code": PeakCode.AREA_TOO_LARGE.value, "peak_limit": 80.0}
    assert told("driveway_storms", "peak_method", peak) == (
        "not assessed: more than 80 ha drain here: beyond the rational method"
    )


def test_every_limit_and_peak_has_words():
    for limit in ShapeLimit:
        said = told("driveways", "shape_note", {"shape_limits": ((limit, 1.0),)})
        assert (said == "") is (limit is ShapeLimit.NOT_ASKED)
    for peak in PeakCode:
        assert told("driveway_storms", "peak_method", {"peak_code": peak.value, "peak_limit": 1.0})


def test_every_sentence_of_these_rooms_is_told():
    tables = ("structures", "low_spots", "driveways", "driveway_storms")
    columns = {(name, column.name) for name in tables for column in TABLES[name] if column.kind == "sentence"}
    assert columns and columns <= tellers().keys()
