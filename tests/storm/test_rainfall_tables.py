"""Depth, intensity and return period from a point precipitation table."""

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from screening.errors import InputError
from screening.inputs import read_rainfall
from screening.models import RainfallTable
from screening.storm.rainfall_tables import (
    intensity_mm_h,
    parse_storm,
    rain_depth_mm,
    rain_of_depth,
    rain_of_storm,
    return_period_words,
    return_period_yr,
    two_year_daily_mm,
)

# NOAA Atlas 14 volume 9, point 26.6, -81.9 (near Fort Myers, Florida; public domain), as the data server gives it.
POINT = read_rainfall(Path(__file__).parents[1] / "tables" / "atlas14_volume9_point_depth_in.csv")


def depth_in(years, hours):
    return rain_depth_mm(POINT, return_period_yr=years, duration_h=hours) / 25.4


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("10yr-24h", (10, 24)),
        ("2yr-1h", (2, 1)),
        ("100-yr 30-min", (100, 0.5)),
        ("5yr-2day", (5, 48)),
        ("25 yr 6 hr", (25, 6)),
    ],
)
def test_storm_text(text, expected):
    assert parse_storm(text) == expected


@pytest.mark.parametrize("text", ["", "24h", "10yr", "ten-year", "10yr-24parsecs"])
def test_storm_text_that_cannot_be_read(text):
    with pytest.raises(InputError, match="10yr-24h"):
        parse_storm(text)


def test_storms_of_the_table_are_as_printed():
    assert depth_in(100, 24) == pytest.approx(12.1)
    assert depth_in(10, 5 / 60) == pytest.approx(0.822)
    rain = rain_of_storm(POINT, " 2yr-1h ")
    assert (rain.label, rain.return_period_yr, rain.duration_h) == ("2yr-1h", 2, 1)
    assert rain.depth_mm / 25.4 == pytest.approx(2.38) and rain.table is POINT and not rain.is_duration_assumed


def test_interpolation_is_log_log():
    """Derived: 1.3147 in at 12 min between 1.20 at 10 and 1.47 at 15 (a straight line gives 1.308); 2.789 at 45."""
    assert depth_in(10, 12 / 60) == pytest.approx(1.3147, abs=5e-4)
    assert depth_in(10, 0.75) == pytest.approx(2.789, abs=1e-3)
    intensity = intensity_mm_h(POINT, return_period_yr=10, duration_h=[12 / 60, 24.0])
    assert intensity / 25.4 == pytest.approx([6.573, 7.28 / 24], abs=3e-3)
    # Halfway in the logarithms of 10 and 25 years, at one hour.
    assert depth_in(math.sqrt(250), 1.0) == pytest.approx(math.sqrt(3.13 * 3.62))


def test_below_five_minutes_the_intensity_of_five_holds():
    assert depth_in(10, 2 / 60) == pytest.approx(0.822 * 2 / 5)
    short, five = intensity_mm_h(POINT, return_period_yr=10, duration_h=[1 / 60, 5 / 60])
    assert short == five == pytest.approx(0.822 * 12 * 25.4)


@pytest.mark.parametrize(("period", "hours"), [(0.9, 1), (1001, 1), (10, 61 * 24), (10, 0), (math.nan, 1)])
def test_outside_the_table_is_refused(period, hours):
    with pytest.raises(InputError, match="outside the rainfall table"):
        rain_depth_mm(POINT, return_period_yr=period, duration_h=hours)
    with pytest.raises(InputError, match="outside the rainfall table"):
        intensity_mm_h(POINT, return_period_yr=period, duration_h=[1.0, hours])


@given(st.floats(1, 1000), st.floats(1 / 60, 1440))
def test_the_return_period_is_the_inverse_of_the_depth(years, hours):
    depth = rain_depth_mm(POINT, return_period_yr=years, duration_h=hours)
    assert return_period_yr(POINT, depth_mm=depth, duration_h=hours) == pytest.approx(years, rel=1e-6)


@given(st.floats(1, 1000), st.floats(1, 1000), st.floats(1 / 60, 1440), st.floats(1 / 60, 1440))
def test_depth_rises_and_intensity_falls_with_duration_and_both_rise_with_the_period(a, b, short, long):
    (a, b), (short, long) = sorted((a, b)), sorted((short, long))
    assert depth_in(a, short) <= depth_in(b, short) * (1 + 1e-12)
    assert depth_in(a, short) <= depth_in(a, long) * (1 + 1e-12)
    by_duration = intensity_mm_h(POINT, return_period_yr=a, duration_h=[short, long])
    assert by_duration[0] >= by_duration[1] * (1 - 1e-12)


@pytest.mark.parametrize(
    ("inches", "expected", "words"),
    [
        (4.76, 2.0, "about every 2 years"),
        (4.00, -math.inf, "more often than every year"),
        (18.1, math.inf, "less often than every 1000 years"),
        (4.01, 1.0, "about every year"),
        (18.0, 1000.0, "about every 1000 years"),
    ],
)
def test_how_often_a_depth_returns(inches, expected, words):
    years = return_period_yr(POINT, depth_mm=inches * 25.4, duration_h=24)
    assert years == pytest.approx(expected)
    assert return_period_words(years, POINT) == words


def test_of_periods_with_one_depth_the_shortest():
    table = RainfallTable(
        durations_h=(24.0,), return_periods_yr=(1.0, 2.0, 5.0), depth_mm=((50.0, 60.0, 60.0),), source="levelled"
    )
    assert return_period_yr(table, depth_mm=60.0, duration_h=24) == pytest.approx(2.0)


@pytest.mark.parametrize("depth", [0.0, -1.0, math.nan])
def test_no_depth_has_no_return_period(depth):
    with pytest.raises(InputError, match="more than 0"):
        return_period_yr(POINT, depth_mm=depth, duration_h=24)


def test_a_typed_depth_is_a_rain_of_a_day():
    rain = rain_of_depth(9.05 * 25.4, POINT)
    assert rain.return_period_yr == pytest.approx(25) and rain.duration_h == 24 and rain.is_duration_assumed
    assert rain.label == "stated depth" and rain.table is POINT
    bare = rain_of_depth(50.0, None)
    assert bare.table is bare.return_period_yr is bare.duration_h is None


def test_two_year_rain_of_a_day():
    assert two_year_daily_mm(POINT) == pytest.approx(4.76 * 25.4)
    assert two_year_daily_mm(None) is None
    short = RainfallTable(
        durations_h=(1.0, 2.0), return_periods_yr=(2.0, 10.0), depth_mm=((20.0, 30.0), (30.0, 40.0)), source="short"
    )
    assert two_year_daily_mm(short) is None


def test_intensity_of_a_point_table():
    """NOAA Atlas 14 volume 8, point 39, -105: 2-year 10-minute 2.55 in/h is a depth of 0.425 in."""
    table = RainfallTable(
        durations_h=(1 / 6, 1.0),
        return_periods_yr=(2.0, 10.0),
        depth_mm=((0.425, 0.67), (0.818, 1.2)),
        source="inches, for the ratio alone",
    )
    assert float(intensity_mm_h(table, return_period_yr=2, duration_h=1 / 6)) == pytest.approx(2.55)
    assert np.shape(intensity_mm_h(table, return_period_yr=2, duration_h=[[0.5], [1.0]])) == (2, 1)
