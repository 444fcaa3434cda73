"""The whole simulation of a window: places, series, links, limits, and what is refused."""

import dataclasses

import numpy as np
import pytest
import shapely

from screening.errors import InputError
from screening.models import Inflow, Rain
from screening.models.motion import HazardClass, MotionLimit, PlaceKind
from screening.motion.forcing import InflowHydrograph
from screening.motion.reached import check_driveways, find_places
from screening.motion.settings import MotionSettings
from screening.motion.simulate import estimate_seconds, simulate_window
from screening.schema.criteria import Criteria
from screening.storm.design_storm import design_storm
from screening.structures.walls import find_walls
from screening.terrain.surface import build_surface
from tests.blocks import NORTH, WEST, box, line, make_block

CRITERIA = Criteria()
QUICK = MotionSettings(output_s=60.0, after_rain_h=0.25)


def _lot(**layers):
    """A house low on a slope that runs east, its driveway from the street, a door in its uphill wall."""
    elev = np.tile(8.0 - 0.04 * np.arange(46), (30, 1))
    layers = {
        "structures": [("H1", "lot", "house", box(11, 26, 19, 36))],
        "driveways": [("D1", "lot", "driveway", box(13, 4, 17, 26))],
        "roads": [(box(0, 0, 30, 4),)],
        "doors": [("O1", "door", "H1", np.nan, shapely.Point(WEST + 26.0, NORTH - 12.5))],
        **layers,
    }
    return make_block(elev, **layers)


def _staged(block, rain):
    surface = build_surface(block, criteria=CRITERIA)
    return surface, find_walls(block, surface), design_storm(block, surface, rain=rain, criteria=CRITERIA)


def _simulated(block, rain=Rain(depth_mm=60.0, label="test", source="test", duration_h=0.5), settings=QUICK, **more):  # noqa: B008
    surface, walls, storm = _staged(block, rain)
    return simulate_window(block, surface, walls, storm, criteria=CRITERIA, settings=settings, n_threads=1, **more)


@pytest.fixture(scope="module")
def found():
    return _simulated(_lot())


def _at(found, kind, name=""):
    (place,) = [each for each in found.places if each.kind is kind and (not name or each.name == name)]
    return place


def test_every_place_of_a_lot_is_there_with_its_cells(found):
    kinds = [(place.kind, place.owner_id, place.name) for place in found.places]
    assert kinds == [
        *((PlaceKind.WALL_SIDE, "H1", side) for side in ("north", "east", "south", "west")),
        (PlaceKind.DOOR, "O1", "door"),
        (PlaceKind.DRIVEWAY_HOUSE_END, "D1", ""),
        (PlaceKind.DRIVEWAY_STREET_END, "D1", ""),
    ]
    west = _at(found, PlaceKind.WALL_SIDE, "west")
    assert {25} == set((west.cells[np.isin(west.cells // 46, range(11, 19))] % 46).tolist())
    assert _at(found, PlaceKind.DOOR).cells.tolist() == [12 * 46 + 25]
    assert _at(found, PlaceKind.DRIVEWAY_HOUSE_END).cells.tolist() == [row * 46 + 25 for row in range(13, 17)]
    assert _at(found, PlaceKind.DRIVEWAY_STREET_END).cells.tolist() == [row * 46 + 4 for row in range(13, 17)]


def test_water_comes_to_the_uphill_wall_and_hardly_to_the_downhill_one(found):
    west, east = (_at(found, PlaceKind.WALL_SIDE, side) for side in ("west", "east"))
    assert west.depth_max_m > 0.02 and west.depth_max_m > 2 * east.depth_max_m
    assert 0.0 < west.arrival_h < 0.5 and 0.1 < west.wet_h <= 0.75
    assert west.hazard is HazardClass.H1
    ring = found.depth_max_m.ravel()[west.cells]
    assert west.depth_max_m == pytest.approx(ring.max())


def test_rasters_are_of_the_window_and_unknown_in_walls(found):
    is_wall = np.zeros((30, 46), bool)
    is_wall[11:19, 26:36] = True
    for grid in (found.depth_max_m, found.speed_max_m_s, found.unit_flow_max_m2_s, found.wet_h, found.depth_end_m):
        assert grid.shape == (30, 46) and grid.dtype == np.float32
        assert np.array_equal(np.isnan(grid), is_wall)
        assert not grid.flags.writeable
    assert np.isnan(found.arrival_h[is_wall]).all() and (found.hazard[is_wall] == 0).all()
    came = found.depth_max_m > 0.0101
    assert not np.isnan(found.arrival_h[came]).any()


def test_the_series_has_each_output_and_meets_the_maxima(found):
    series = found.series
    assert series.time_h == pytest.approx(np.arange(1, 46) / 60.0)
    assert series.depth_m.shape == series.unit_flow_m2_s.shape == (45, len(found.places))
    for number, place in enumerate(found.places):
        assert series.depth_m[:, number].max() <= place.depth_max_m * (1 + 1e-6)
        assert series.depth_m[:, number].max() >= 0.8 * place.depth_max_m


def test_the_balance_is_that_of_the_storm(found):
    _, _, storm = _staged(_lot(), Rain(depth_mm=60.0, label="test", source="test", duration_h=0.5))
    assert found.balance.runoff_m3 == pytest.approx(storm.runoff_mm.sum() / 1000.0, rel=1e-5)
    assert found.balance.error_worst_frac < 1e-4
    assert found.run.attempts[-1].is_failed is False
    assert (found.run.start_h, found.run.end_h) == (0.0, 0.75)
    assert found.run.early_runoff_frac == found.run.later_runoff_frac == 0.0


def test_it_says_what_it_is_not(found):
    assert {MotionLimit.NO_BORES, MotionLimit.NO_ENTRY, MotionLimit.NO_RUN_ON_LOSS} <= set(found.limits)
    never = {MotionLimit.ASSUMED_PIPE_CAPACITY, MotionLimit.LATER_RUNOFF_LEFT_OUT, MotionLimit.NARROW_DRIVEWAYS}
    assert not never & set(found.limits)
    assert found.sources["hazard"].endswith("from memory")


def test_a_curb_across_the_driveway_keeps_water_from_the_house():
    """A dropped curb would let it through: a wall stands there."""
    bare = _simulated(_lot(driveways=[], doors=[]))
    wall = ("B1", "wall", 0.5, line([(5, 22), (25, 22)]))
    held = _simulated(_lot(driveways=[], doors=[], barriers=[wall]))
    assert (
        _at(held, PlaceKind.WALL_SIDE, "west").unit_flow_max_m2_s
        < 0.6 * _at(bare, PlaceKind.WALL_SIDE, "west").unit_flow_max_m2_s
    )


def test_pipes_without_a_capacity_are_said_and_those_with_one_held_to_it():
    culvert = ("C1", "culvert", np.nan, np.nan, np.nan, line([(3, 10), (3, 20)]))
    assumed = _simulated(_lot(drains=[culvert]))
    assert MotionLimit.ASSUMED_PIPE_CAPACITY in assumed.limits
    assert assumed.links[0].capacity_m3_s == 0.4 and assumed.links[0].taken_m3 > 0
    held = _simulated(_lot(drains=[culvert]), capacity_m3_s={"culvert C1": 1e-4})
    assert MotionLimit.ASSUMED_PIPE_CAPACITY not in held.limits
    assert held.links[0].peak_m3_s <= 1e-4 * (1 + 1e-3) and held.links[0].taken_m3 < assumed.links[0].taken_m3


def test_water_from_beyond_comes_in_and_does_not_leave_where_it_came():
    wave = InflowHydrograph(15 * 46, 300.0, np.full(6, 0.05))
    dry = _simulated(_lot())
    wet = _simulated(_lot(), hydrographs=[wave])
    assert wet.balance.inflow_m3 == pytest.approx(90.0)
    assert wet.balance.error_worst_frac < 1e-4
    assert wet.depth_max_m[15, 8] > dry.depth_max_m[15, 8] + 0.01
    inflow = Inflow(np.array([15 * 46]), np.array([5000.0]), np.array([100.0]), np.zeros(1), np.zeros(1, bool))
    timed = _simulated(_lot(), inflow=inflow)
    assert MotionLimit.INFLOW_TIME_BY_AREA in timed.limits and 0 < timed.balance.inflow_m3 <= 100.0


@pytest.mark.parametrize(("cell", "words"), [(12 * 46 + 30, "row 12, column 30"), (30 * 46, "outside the window")])
def test_water_from_beyond_into_a_wall_or_outside_is_refused(cell, words):
    with pytest.raises(InputError, match=words):
        _simulated(_lot(), hydrographs=[InflowHydrograph(cell, 300.0, np.full(6, 0.05))])


def test_of_a_day_of_rain_the_hours_that_matter_are_simulated_and_the_rest_said():
    settings = MotionSettings(coarse_cells=10, hours_max=1.0)
    told = []
    found = _simulated(
        _lot(),
        rain=Rain(depth_mm=80.0, label="test", source="test", duration_h=24.0),
        settings=settings,
        estimate=told.append,
    )
    assert 11.0 < found.run.start_h < 12.0 and found.run.end_h - found.run.start_h <= 1.0 + 1e-9
    assert 0 < found.run.early_runoff_frac < 0.5 and 0 < found.run.later_runoff_frac < 0.8
    assert {MotionLimit.EARLY_RUNOFF_POURED, MotionLimit.LATER_RUNOFF_LEFT_OUT} <= set(found.limits)
    arrived = found.arrival_h[~np.isnan(found.arrival_h)]
    assert arrived.min() >= found.run.start_h
    assert told == [found.run.estimated_s] and told[0] > 0


def test_cells_too_large_for_a_driveway_are_refused_and_narrow_ones_said():
    narrow = _lot(driveways=[("D1", "lot", "driveway", box(13, 4, 15.4, 26))])
    assert check_driveways(narrow, QUICK)
    assert MotionLimit.NARROW_DRIVEWAYS in _simulated(narrow).limits
    with pytest.raises(InputError, match=r"too large for driveway D1.*expected|Expected: cells of at most"):
        _simulated(_lot(driveways=[("D1", "lot", "driveway", box(13, 4, 14.2, 26))]))
    assert not check_driveways(_lot(driveways=[]), QUICK)


def test_a_storm_without_runoff_is_refused():
    with pytest.raises(InputError, match="no water to move"):
        _simulated(
            _lot(roads=[], driveways=[], structures=[], doors=[]),
            rain=Rain(depth_mm=1.0, label="test", source="test", duration_h=1.0),
        )


def test_without_structures_there_are_no_places_and_no_series():
    found = _simulated(_lot(structures=[], driveways=[], doors=[]))
    assert found.places == () and found.series.depth_m.shape == (0, 0)


def test_a_driveway_without_roads_ends_where_it_is_farthest_from_the_house():
    block = _lot(roads=[])
    surface = build_surface(block, criteria=CRITERIA)
    places = find_places(block, surface, find_walls(block, surface), surface.structure_index == 0, door_reach_m=2.0)
    (street,) = [place for place in places if place.kind is PlaceKind.DRIVEWAY_STREET_END]
    assert set((street.cells % 46).tolist()) <= {4, 5} and street.cells.size >= 4


def test_an_estimate_grows_with_cells_hours_and_one_thread():
    from screening.motion.ground import ground_of
    from screening.motion.hours import Hours

    block = _lot()
    surface, _, storm = _staged(block, Rain(depth_mm=60.0, label="test", source="test", duration_h=0.5))
    ground = ground_of(block, surface, storm, criteria=CRITERIA, settings=QUICK)
    one = estimate_seconds(ground, Hours(0.0, 3600.0), settings=QUICK, n_threads=1)
    assert estimate_seconds(ground, Hours(0.0, 7200.0), settings=QUICK, n_threads=1) == pytest.approx(2 * one)
    assert estimate_seconds(ground, Hours(0.0, 3600.0), settings=QUICK, n_threads=2) == pytest.approx(0.6 * one)
    faster = dataclasses.replace(QUICK, signal_m_s=4.2)
    assert estimate_seconds(ground, Hours(0.0, 3600.0), settings=faster, n_threads=1) == pytest.approx(2 * one)


def test_a_state_holds_at_most_100_bytes_a_cell():
    """Peak of what the solver allocates over a window, beside its inputs, by tracemalloc, which numpy tells."""
    import tracemalloc

    rng = np.random.default_rng(1)
    block = make_block(8.0 + rng.random((300, 400)) - 0.04 * np.arange(400))
    surface, walls, storm = _staged(block, Rain(depth_mm=60.0, label="test", source="test", duration_h=0.05))
    settings = dataclasses.replace(QUICK, after_rain_h=0.0)
    simulate_window(block, surface, walls, storm, criteria=CRITERIA, settings=settings, n_threads=1)
    tracemalloc.start()
    simulate_window(block, surface, walls, storm, criteria=CRITERIA, settings=settings, n_threads=1)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak / block.elev_m.size <= 100.0
