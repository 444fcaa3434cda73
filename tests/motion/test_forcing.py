"""Rain to runoff over time, roofs, downspouts, and water from beyond."""

import dataclasses
import itertools

import numpy as np
import pytest

from screening.errors import InputError
from screening.models import Inflow, Intake, Rain
from screening.motion.forcing import InflowHydrograph, forcing_of, hydrographs_of, hyetograph_of
from screening.motion.settings import MotionSettings
from screening.schema.criteria import Criteria
from screening.storage.hyetographs import nrcs_hyetograph, uniform_hyetograph
from screening.storm.curve_numbers import runoff_depth_mm
from screening.storm.design_storm import design_storm
from screening.terrain.surface import build_surface
from tests.blocks import box, make_block

CRITERIA = Criteria()
CENTRE = {"x": 16.5, "y": 3.5}


def _house(**layers):
    elev = np.tile(5.0 - 0.05 * np.arange(20), (12, 1))
    return make_block(
        elev, structures=[("H1", "lot", "house", box(4, 5, 8, 11))], roads=[(box(0, 17, 12, 20),)], **layers
    )


def _forced(block, rain_mm=50.0, hyetograph=None, **options):
    surface = build_surface(block, criteria=CRITERIA)
    storm = design_storm(block, surface, rain=Rain(depth_mm=rain_mm, label="test", source="test"), criteria=CRITERIA)
    rain = hyetograph or uniform_hyetograph(rain_mm, duration_h=1.0)
    return storm, forcing_of(surface, storm, rain, ratio=CRITERIA.storm.initial_abstraction_ratio, **options)


def test_all_steps_together_give_the_runoff_of_the_storm():
    storm, forcing = _forced(_house())
    assert forcing.runoff_m3(0.0, forcing.rain_s) == pytest.approx(storm.runoff_mm.sum() / 1000.0, rel=1e-5)
    edges = np.arange(0.0, 3601.0, 300.0)
    total = sum(forcing.supply_m_s(a, b, over_s=b - a).sum() * (b - a) for a, b in itertools.pairwise(edges))
    assert total == pytest.approx(storm.runoff_mm.sum() / 1000.0, rel=1e-5)


def test_the_runoff_up_to_a_time_is_that_of_the_rain_up_to_then():
    storm, forcing = _forced(_house(), hyetograph=nrcs_hyetograph(50.0, "II"))
    # Type II has let 66.3 % of the rain fall by hour 12 (its ordinate): TR-55 on that depth.
    supply = forcing.supply_m_s(0.0, 12 * 3600.0, over_s=1.0)
    number = float(storm.curve_number[6, 18])
    assert number == 98.0
    assert supply[6, 18] * 1000.0 == pytest.approx(float(runoff_depth_mm(0.663 * 50.0, number)), rel=1e-6)


def test_a_roof_sheds_onto_the_ground_beside_it():
    _, forcing = _forced(_house())
    supply = forcing.supply_m_s(0.0, 3600.0, over_s=3600.0)
    assert not supply[4:8, 5:11].any()
    ring = np.zeros(supply.shape, bool)
    ring[3:9, 4:12] = True
    ring[4:8, 5:11] = False
    own = supply[0, 0]
    assert supply[ring].sum() > ring.sum() * own + 20 * own
    assert supply[~ring][:].max() == pytest.approx(supply[0, 18])


def test_a_downspout_takes_its_roof_up_to_its_capacity():
    import shapely

    from tests.blocks import NORTH, WEST

    block = _house(downspouts=[("P1", "H1", shapely.Point(WEST + 4.5, NORTH - 8.5))])
    _, free = _forced(block)
    roof_m3_s = runoff_depth_mm(50.0, 98.0) / 1000.0 * 24.0 / 3600.0
    supply, bare = (each.supply_m_s(0.0, 3600.0, over_s=3600.0) for each in (free, _forced(_house())[1]))
    place = np.unravel_index(int((supply - bare).argmax()), supply.shape)
    own = supply[0, 0]
    assert supply[place] - own == pytest.approx(roof_m3_s, rel=1e-6)
    _, held = _forced(block, spout_m3_s=0.25 * roof_m3_s)
    less = held.supply_m_s(0.0, 3600.0, over_s=3600.0)
    assert less.sum() == pytest.approx(supply.sum())
    # A quarter by the spout, and what the eaves of its own cell shed onto it.
    assert less[place] - own < 0.5 * roof_m3_s
    assert less[place] - own >= 0.25 * roof_m3_s * (1 - 1e-9)


def test_an_intake_on_a_roof_leads_its_water_away_or_off_the_ground():
    import shapely

    from tests.blocks import NORTH, WEST

    away = Intake(
        intake_id="R1",
        kind="downspout",
        structure_id="H1",
        outlet=shapely.Point(WEST + CENTRE["x"], NORTH - CENTRE["y"]),
    )
    block = dataclasses.replace(_house(), intakes=(away,))
    roof_m3_s = runoff_depth_mm(50.0, 98.0) / 1000.0 * 24.0 / 3600.0
    bare = _forced(_house())[1].supply_m_s(0.0, 3600.0, over_s=3600.0)
    led = _forced(block)[1].supply_m_s(0.0, 3600.0, over_s=3600.0)
    assert led[3, 16] - bare[3, 16] == pytest.approx(roof_m3_s, rel=1e-6)
    assert led.sum() == pytest.approx(bare.sum())
    block = dataclasses.replace(_house(), intakes=(dataclasses.replace(away, outlet=None),))
    gone = _forced(block)[1].supply_m_s(0.0, 3600.0, over_s=3600.0)
    assert bare.sum() - gone.sum() == pytest.approx(roof_m3_s, rel=1e-6)


def test_a_duration_makes_a_block_and_a_day_a_distribution():
    settings = MotionSettings()
    short = hyetograph_of(
        Rain(depth_mm=30.0, label="t", source="t", duration_h=1.0), distribution="II", settings=settings
    )
    assert short.rain_mm == pytest.approx(2.5) and short.rain_mm.size == 12
    for hours in (None, 24.0):
        long = hyetograph_of(
            Rain(depth_mm=30.0, label="t", source="t", duration_h=hours), distribution="II", settings=settings
        )
        assert long.rain_mm.size == 288 and long.depth_mm == pytest.approx(30.0)


def test_rain_that_does_not_run_off_is_refused():
    with pytest.raises(InputError, match=r"no water to move.*0\.5 mm"):
        _forced(_house(), rain_mm=0.5)


def test_a_hydrograph_keeps_its_volume_and_its_time():
    wave = InflowHydrograph(7, 600.0, np.array([0.0, 0.02, 0.01]))
    assert wave.volume_m3(0.0, np.inf) == pytest.approx(18.0)
    assert wave.volume_m3(600.0, 900.0) == pytest.approx(6.0)
    _, forcing = _forced(_house(), hydrographs=[wave])
    bare = _forced(_house())[1].supply_m_s(600.0, 900.0, over_s=300.0)
    supply = forcing.supply_m_s(600.0, 900.0, over_s=300.0)
    assert supply.ravel()[7] - bare.ravel()[7] == pytest.approx(0.02)
    with pytest.raises(InputError, match="hydrograph"):
        InflowHydrograph(7, 600.0, np.array([-1.0]))


def test_water_from_beyond_comes_later_and_is_all_there():
    inflow = Inflow(np.array([3]), np.array([20_000.0]), np.array([500.0]), np.zeros(1), np.zeros(1, bool))
    (wave,) = hydrographs_of(inflow, uniform_hyetograph(50.0, duration_h=1.0), curve_number=80.0, ratio=0.2)
    assert wave.volume_m3(0.0, np.inf) == pytest.approx(500.0)
    middle_s = (wave.flow_m3_s * (np.arange(wave.flow_m3_s.size) + 0.5)).sum() / wave.flow_m3_s.sum() * wave.step_s
    # Runoff of an hour of rain has its middle after half an hour; 0.76 A^0.38 is 0.17 h for 2 ha.
    assert 0.5 * 3600.0 < middle_s < 1.2 * 3600.0
    nothing = dataclasses.replace(inflow, area_m2=np.zeros(1))
    assert hydrographs_of(nothing, uniform_hyetograph(50.0, duration_h=1.0), curve_number=80.0, ratio=0.2) == ()
