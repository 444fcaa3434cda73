import dataclasses

import pytest

from screening.errors import CriteriaError, InputError, ScreeningError
from screening.grid import Grid, check_same_grid
from screening.schema.criteria import Criteria, describe, from_mapping, thresholds
from screening.units import format_value


def test_every_threshold_says_unit_meaning_and_source():
    lines = describe(Criteria())
    assert len(lines) == len(thresholds())
    for line in lines:
        assert line.meaning and line.source, line
        if line.unit:
            assert line.name.endswith("_" + line.unit), line


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"setback_well": 3}, "does not exist"),
        ({"setback_well_m": "far"}, "wrong kind"),
        ({"setback_well_m": -1}, "outside its range"),
        ({"setback_well_m": float("nan")}, "outside its range"),
        ({"nodata_drains": 1}, "wrong kind"),
        ({"lawn_condition": "lush"}, "poor, fair, good"),
        ({"rainfall_distribution": "IV"}, "I, IA, II, III"),
        ({"dispersive_method": "d8"}, "freeman, qin, d-infinity"),
        ({"infiltration_groups": ["A", "E"]}, "does not exist"),
        ({"lidar_quality_level": "QL4"}, "QL0, QL1, QL2, QL3"),
        ({"n_realisations": 2.5}, "wrong kind"),
        ({"n_realisations": True}, "wrong kind"),
        ({"n_realisations": -1}, "outside its range"),
        ({"error_seed": 2**32}, "outside its range"),
    ],
)
def test_wrong_thresholds_are_refused_with_a_reason(values, words):
    with pytest.raises(CriteriaError, match=words):
        from_mapping(values)


def test_whole_numbers_and_lists_are_taken():
    criteria = from_mapping({"setback_well_m": 15, "infiltration_groups": ["A"]})
    assert criteria.capture.setback_well_m == 15.0 and isinstance(criteria.capture.setback_well_m, float)
    assert criteria.capture.infiltration_groups == ("A",)
    counts = from_mapping({"n_realisations": 50, "elevation_rmse_m": 1})
    assert isinstance(counts.findings.n_realisations, int) and isinstance(counts.terrain.elevation_rmse_m, float)
    assert from_mapping({}) == Criteria()


def test_messages_say_what_was_met_and_how_to_mend_it():
    error = InputError("It broke", got="3", expected="4", mend="add one")
    assert str(error) == "It broke. Got: 3. Expected: 4. To mend it: add one."
    assert isinstance(error, ScreeningError)


def test_peaks_and_times_are_shown_in_the_trade_units():
    # 1 cubic foot is 28.316846592 litres.
    assert (format_value(28.316846592, "l_s", "us"), format_value(28.3, "l_s")) == ("1.00 cfs", "28.3 L/s")
    assert format_value(12.4, "min", "us") == format_value(12.4, "min") == "12 min"


def test_grids_that_differ_are_refused():
    grid = Grid(crs="EPSG:26917", west_m=0.0, north_m=10.0, cell_m=1.0, n_rows=4, n_cols=6)
    assert grid.bounds == (0.0, 6.0, 6.0, 10.0)
    assert (grid.x_of(0), grid.y_of(0)) == (0.5, 9.5)
    check_same_grid(grid, dataclasses.replace(grid), what="It")
    with pytest.raises(ScreeningError, match="another grid"):
        check_same_grid(grid, dataclasses.replace(grid, cell_m=2.0), what="It")
    with pytest.raises(InputError, match="empty"):
        Grid(crs="EPSG:26917", west_m=0.0, north_m=0.0, cell_m=1.0, n_rows=0, n_cols=5)


@pytest.mark.parametrize(
    ("value", "unit", "system", "text"),
    [
        (3.048, "m", "us", "10.0 ft"),
        (1.0, "m3", "us", "35 cu ft"),
        (25.4, "mm", "us", "1.00 in"),
        (92.903, "m2", "us", "1,000 sq ft"),
        (0.5, "frac", "metric", "50%"),
        (12.34, "m2", "metric", "12 m²"),
        (float("nan"), "m", "metric", "not assessed"),
        (None, "m3", "us", "not assessed"),
        (4.0, "", "metric", "4"),
    ],
)
def test_numbers_as_readers_see_them(value, unit, system, text):
    # 1 ft = 0.3048 m and 1 in = 25.4 mm exactly (NIST SP 811, appendix B).
    assert format_value(value, unit, system) == text
