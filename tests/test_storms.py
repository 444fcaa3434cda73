"""The storm of a block: runoff by cell, and what is said of it."""

import dataclasses

import numpy as np
import pytest

from screening.criteria import Criteria
from screening.curve_numbers import runoff_depth_mm
from screening.models import Rain, RainfallTable
from screening.rainfall_tables import rain_of_depth, rain_of_storm
from screening.storms import design_storm
from screening.surface import build_surface
from tests.blocks import box, make_block

TABLE = RainfallTable(
    (1.0, 24.0), (1.0, 10.0, 100.0), ((20.0, 40.0, 60.0), (50.0, 100.0, 150.0)), "invented", "partial duration"
)


def storm_of(rain, **layers):
    block = make_block(np.zeros((4, 10)), **layers)
    return design_storm(block, build_surface(block, criteria=Criteria()), rain=rain, criteria=Criteria())


def texts(storm):
    return " | ".join(note.text for note in storm.notes)


def test_assumptions_are_noted():
    storm = storm_of(Rain(50.0, "50 mm", "criteria", is_assumed=True))
    assert {note.subject for note in storm.notes} == {"storm", "runoff"}
    assert "100%" in texts(storm)
    assert storm.runoff_mm.max() < 50


def test_a_typed_depth_says_how_often_it_comes():
    assert "24 h: by the table it comes about every 10 years" in texts(storm_of(rain_of_depth(100.0, TABLE)))
    assert "more often than every year" in texts(storm_of(rain_of_depth(49.0, TABLE)))
    assert "by the table" not in texts(storm_of(rain_of_depth(49.0, None)))


def test_annual_maxima_are_noted_below_25_years():
    """Partial duration and annual maximum series differ at 2 to 10 years and agree from 25 years on."""
    maxima = dataclasses.replace(TABLE, series="annual maximum")
    assert "annual maxima" in texts(storm_of(rain_of_storm(maxima, "10yr-24h")))
    assert "annual maxima" not in texts(storm_of(rain_of_storm(maxima, "50yr-24h")))
    assert "annual maxima" not in texts(storm_of(rain_of_storm(TABLE, "10yr-24h")))


def test_runoff_is_cell_by_cell_and_a_note_says_where_that_matters():
    """Half pavement, half good lawn on group A: 3 in give 1.38 in cell by cell, 0.65 in by the composite 68.5."""
    soils = [("1", "A", box(0, 0, 4, 10))]
    storm = storm_of(Rain(76.2, "3 in", "test"), soils=soils, roads=[(box(0, 0, 4, 5),)])
    assert float(storm.runoff_mm.mean()) / 25.4 == pytest.approx(1.38, abs=0.01)
    assert float(storm.curve_number.mean()) == 68.5
    assert "1 of 1 lots" in texts(storm)
    even = storm_of(Rain(76.2, "3 in", "test"), soils=soils)
    assert "weighted Q" not in texts(even)
    assert even.runoff_mm == pytest.approx(float(runoff_depth_mm(76.2, 39)))


def test_no_runoff_without_elevation():
    elev = np.zeros((4, 6), np.float32)
    elev[1:3, 2:4] = np.nan
    block = make_block(elev)
    criteria = Criteria(void_fill_max_m2=0.0)
    storm = design_storm(
        block, build_surface(block, criteria=criteria), rain=Rain(50.0, "50 mm", "test"), criteria=criteria
    )
    assert (storm.runoff_mm == 0).sum() == 4 == np.isnan(storm.curve_number).sum()
