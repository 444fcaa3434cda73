"""The storm of a block: runoff by cell, and what is said of it."""

import dataclasses

import numpy as np
import pytest

from screening.models import Rain, RainfallTable
from screening.report.words.notes import note_words
from screening.schema.codes.storm import Series
from screening.schema.criteria import Criteria
from screening.storm.curve_numbers import runoff_depth_mm
from screening.storm.design_storm import design_storm
from screening.storm.rainfall_tables import rain_of_depth, rain_of_storm
from screening.terrain.surface import build_surface
from tests.blocks import box, make_block

TABLE = RainfallTable(
    durations_h=(1.0, 24.0),
    return_periods_yr=(1.0, 10.0, 100.0),
    depth_mm=((20.0, 40.0, 60.0), (50.0, 100.0, 150.0)),
    source="invented",
    series=Series.PARTIAL_DURATION,
)


def storm_of(rain, **layers):
    block = make_block(np.zeros((4, 10)), **layers)
    return design_storm(block, build_surface(block, criteria=Criteria()), rain=rain, criteria=Criteria())


def texts(storm):
    return " | ".join(note_words(note) for note in storm.notes)


def test_assumptions_are_noted():
    storm = storm_of(Rain(depth_mm=50.0, label="50 mm", source="criteria", is_assumed=True))
    assert {note.subject for note in storm.notes} == {"storm", "runoff"}
    assert "100%" in texts(storm)
    assert storm.runoff_mm.max() < 50


def test_a_typed_depth_says_how_often_it_comes():
    assert "24 h: by the table it comes about every 10 years" in texts(storm_of(rain_of_depth(100.0, TABLE)))
    assert "more often than every year" in texts(storm_of(rain_of_depth(49.0, TABLE)))
    assert "by the table" not in texts(storm_of(rain_of_depth(49.0, None)))


def test_annual_maxima_are_noted_below_25_years():
    """Partial duration and annual maximum series differ at 2 to 10 years and agree from 25 years on."""
    maxima = dataclasses.replace(TABLE, series=Series.ANNUAL_MAXIMUM)
    assert "annual maxima" in texts(storm_of(rain_of_storm(maxima, "10yr-24h")))
    assert "annual maxima" not in texts(storm_of(rain_of_storm(maxima, "50yr-24h")))
    assert "annual maxima" not in texts(storm_of(rain_of_storm(TABLE, "10yr-24h")))


def test_runoff_is_cell_by_cell_and_a_note_says_where_that_matters():
    """Half pavement, half good lawn on group A: 3 in give 1.38 in cell by cell, 0.65 in by the composite 68.5."""
    soils = [("1", "A", box(0, 0, 4, 10))]
    storm = storm_of(Rain(depth_mm=76.2, label="3 in", source="test"), soils=soils, roads=[(box(0, 0, 4, 5),)])
    assert float(storm.runoff_mm.mean()) / 25.4 == pytest.approx(1.38, abs=0.01)
    assert float(storm.curve_number.mean()) == 68.5
    assert "1 of 1 lots" in texts(storm)
    even = storm_of(Rain(depth_mm=76.2, label="3 in", source="test"), soils=soils)
    assert "weighted Q" not in texts(even)
    assert even.runoff_mm == pytest.approx(float(runoff_depth_mm(76.2, 39)))


def test_the_note_counts_the_lots_where_it_matters_and_no_others():
    """At 76.2 mm the half paved lot parts from its composite number, the bare one and the paved one do not."""
    lots = [("half", box(0, 0, 4, 10)), ("bare", box(0, 10, 4, 20)), ("paved", box(0, 20, 4, 30))]
    elev = np.zeros((4, 34), np.float32)
    elev[:, 30:] = elev[0, 0] = elev[0, 9] = np.nan
    lots.append(("no ground", box(0, 30, 4, 34)))
    soils, roads = [("1", "A", box(0, 0, 4, 34))], [(box(0, 0, 4, 5),), (box(0, 20, 4, 30),)]
    block = make_block(elev, lots=lots, soils=soils, roads=roads)
    surface = build_surface(block, criteria=Criteria.of(void_fill_max_m2=0.0))
    storm = design_storm(block, surface, rain=Rain(depth_mm=76.2, label="3 in", source="test"), criteria=Criteria())
    assert "on 1 of 4 lots" in texts(storm)
    dry = design_storm(block, surface, rain=Rain(depth_mm=0.5, label="0.5 mm", source="test"), criteria=Criteria())
    assert dry.runoff_mm.max() == 0.0 and "weighted Q" not in texts(dry)


@pytest.mark.parametrize(("part", "is_said"), [(0.999, True), (1.001, False)])
def test_a_tenth_more_is_where_the_note_begins(part, is_said):
    """The more it rains, the less the two part: at 172.7 mm by a tenth."""
    rain_mm = 172.7 * part
    storm = storm_of(
        Rain(depth_mm=rain_mm, label="", source="test"),
        soils=[("1", "A", box(0, 0, 4, 10))],
        roads=[(box(0, 0, 4, 5),)],
    )
    by_cell = (float(runoff_depth_mm(rain_mm, 98)) + float(runoff_depth_mm(rain_mm, 39))) / 2
    assert by_cell / float(runoff_depth_mm(rain_mm, 68.5)) == pytest.approx(1.1, abs=0.001)
    assert ("weighted Q" in texts(storm)) is is_said


def test_unknown_soil_counts_where_runoff_depends_on_it():
    """Half of the ground is pavement, of which no soil need be known; a quarter has a group."""
    layers = {"roads": [(box(0, 0, 4, 5),)], "soils": [("1", "B", box(0, 5, 2, 10))]}
    assert "soil group unknown on 25%" in texts(storm_of(Rain(depth_mm=50.0, label="50 mm", source="test"), **layers))
    whole = {**layers, "soils": [("1", "B", box(0, 0, 4, 10))]}
    assert "soil group unknown" not in texts(storm_of(Rain(depth_mm=50.0, label="50 mm", source="test"), **whole))


def test_a_storm_of_25_years_has_no_note_of_annual_maxima():
    maxima = RainfallTable(
        durations_h=(1.0, 24.0),
        return_periods_yr=(10.0, 25.0),
        depth_mm=((40.0, 50.0), (100.0, 120.0)),
        source="invented",
        series=Series.ANNUAL_MAXIMUM,
    )
    assert "annual maxima" not in texts(storm_of(rain_of_storm(maxima, "25yr-24h")))
    assert "annual maxima" in texts(storm_of(rain_of_storm(maxima, "10yr-24h")))


def test_no_runoff_without_elevation():
    elev = np.zeros((4, 6), np.float32)
    elev[1:3, 2:4] = np.nan
    block = make_block(elev)
    criteria = Criteria.of(void_fill_max_m2=0.0)
    storm = design_storm(
        block,
        build_surface(block, criteria=criteria),
        rain=Rain(depth_mm=50.0, label="50 mm", source="test"),
        criteria=criteria,
    )
    assert (storm.runoff_mm == 0).sum() == 4 == np.isnan(storm.curve_number).sum()
    nowhere = make_block(np.full((4, 6), np.nan))
    storm = design_storm(
        nowhere,
        build_surface(nowhere, criteria=criteria),
        rain=Rain(depth_mm=50.0, label="50 mm", source="test"),
        criteria=criteria,
    )
    assert (storm.runoff_mm == 0).all() and "soil group unknown on 100% of the window" in texts(storm)


def test_without_a_return_period_nothing_is_said_of_how_often():
    rare = dataclasses.replace(rain_of_depth(100.0, TABLE), return_period_yr=None)
    assert "by the table" not in texts(storm_of(rare))
    alone = dataclasses.replace(rain_of_depth(100.0, TABLE), table=None)
    assert "by the table" not in texts(storm_of(alone))


def test_a_lot_with_ground_that_is_not_known_is_told_by_the_rest():
    elev = np.zeros((4, 10), np.float32)
    elev[1:3, 2] = np.nan
    criteria = Criteria.of(void_fill_max_m2=0.0)
    for group, roads, is_said in (("A", [(box(0, 0, 4, 5),)], True), ("D", [], False)):
        block = make_block(elev, soils=[("1", group, box(0, 0, 4, 10))], roads=roads)
        storm = design_storm(
            block,
            build_surface(block, criteria=criteria),
            rain=Rain(depth_mm=76.2, label="3 in", source="test"),
            criteria=criteria,
        )
        assert np.isnan(storm.curve_number).sum() == 2 and storm.runoff_mm.max() > 0
        assert ("1 of 1 lots" in texts(storm)) == is_said
