"""Times of concentration on a grid, and peaks at places and onto lots."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.flow.routing import route_flow
from screening.kernels.zones import ragged_from_labels
from screening.models import GroundCover, Rain, RainfallTable
from screening.pipeline import screen_block
from screening.report.words.notes import note_words
from screening.schema.codes.notes import NoteCode
from screening.schema.codes.storm import PeakCode, Series
from screening.schema.covers import CODE_OF
from screening.schema.criteria import Criteria
from screening.storm.concentration import concentrate, runoff_coefficients, travel_time_h
from screening.storm.design_storm import design_storm
from screening.storm.peak_methods import graphical_peak_m3_s
from screening.storm.peaks import peaks_at, peaks_of_zones, peaks_onto_lots
from screening.storm.rainfall_tables import intensity_mm_h, rain_of_depth, rain_of_storm
from screening.terrain.surface import build_surface
from screening.units import M_PER_FT
from tests.blocks import box, make_block

TABLE = RainfallTable(
    durations_h=(5 / 60, 1.0, 24.0),
    return_periods_yr=(1.0, 2.0, 10.0, 100.0),
    depth_mm=((8.0, 10.0, 15.0, 22.0), (25.0, 30.0, 45.0, 70.0), (60.0, 91.44, 120.0, 190.0)),
    source="invented",
    series=Series.PARTIAL_DURATION,
)
RAIN = rain_of_storm(TABLE, "10yr-24h")
STEADY = Criteria.of(path_slope_length_m=0.0, flow_path_min_area_m2=1e9, channel_min_area_m2=1e9)


def chain(block, rain=RAIN, criteria=STEADY):
    surface = build_surface(block, criteria=criteria)
    flow = route_flow(surface, criteria=criteria)
    storm = design_storm(block, surface, rain=rain, criteria=criteria)
    return surface, flow, storm, concentrate(surface, flow, storm, criteria=criteria)


def falling(drops, cell_m=1.0, **layers):
    """Three rows alike, falling from west to east by the given steps."""
    # Near zero, where float32 keeps a slope of a thousandth to five figures.
    return make_block([np.sum(drops) - np.concatenate(([0.0], np.cumsum(drops)))] * 3, cell_m=cell_m, **layers)


def test_a_handbook_path_on_the_grid():
    """TR-55 (1986) example 3-1, from memory: 100 ft of sheet flow in dense grass at 1 %, 1400 ft unpaved at 1 %,
    7300 ft of channel at .5 % with n .05 and 27 ft2 over 28.2 ft: 0.30 + 0.24 + 0.99 = 1.53 h (unrounded 1.5275)."""
    cell = 100 * M_PER_FT
    block = falling([cell * 0.01] * 15 + [cell * 0.005] * 73, cell_m=cell)
    criteria = STEADY.replaced(
        channel_min_area_m2=15.5 * cell**2, channel_n=0.05, channel_hydraulic_radius_m=27 / 28.2 * M_PER_FT
    )
    surface, flow, storm, found = chain(block, criteria=criteria)
    assert found.two_year_rain_mm == pytest.approx(3.6 * 25.4)
    hours = found.time_of_concentration_h[1]
    assert hours[1] == pytest.approx(0.2959, abs=1e-4)
    assert hours[15] == pytest.approx(0.2959 + 0.2411, abs=2e-4)
    assert hours[88] == pytest.approx(1.5275, abs=5e-3)
    raw = travel_time_h(surface, flow, storm.ground_cover, two_year_rain_mm=3.6 * 25.4, criteria=criteria)
    assert raw[1, 0] == 0.0 and raw[1, 88] == pytest.approx(hours[88], rel=1e-6)


def test_sheet_flow_ends_at_its_cap_within_a_step():
    """100 ft by default (NEH 630 chapter 15, from memory), 300 ft as TR-55 of 1986 had it on request.

    40 m at 4 % in cells of 4 m: 30.48 m of sheet flow, the rest unpaved, as by hand."""
    assert Criteria().storm.sheet_flow_length_m == pytest.approx(100 * M_PER_FT)
    _, _, _, found = chain(falling([0.16] * 10, cell_m=4.0))
    sheet = 0.007 * (0.24 * 100) ** 0.8 / 3.6**0.5 / 0.04**0.4
    rest = (40 / M_PER_FT - 100) / (16.1345 * 0.2) / 3600
    assert found.time_of_concentration_h[1, 10] == pytest.approx(sheet + rest, rel=1e-5)
    longer = STEADY.replaced(sheet_flow_length_m=300 * M_PER_FT)
    _, _, _, found = chain(falling([0.16] * 10, cell_m=4.0), criteria=longer)
    all_sheet = 0.007 * (0.24 * 40 / M_PER_FT) ** 0.8 / 3.6**0.5 / 0.04**0.4
    assert found.time_of_concentration_h[1, 10] == pytest.approx(all_sheet, rel=1e-5)


def test_sheet_flow_ends_where_water_has_gathered():
    gathers = STEADY.replaced(flow_path_min_area_m2=5.0)
    _, _, _, found = chain(falling([0.001] * 60), criteria=gathers)
    sheet = 0.007 * (0.24 * 4 / M_PER_FT) ** 0.8 / 3.6**0.5 / 0.001**0.4
    rest = 56 / M_PER_FT / (16.1345 * 0.001**0.5) / 3600
    assert found.time_of_concentration_h[1, 60] == pytest.approx(sheet + rest, rel=1e-3)


def test_pavement_is_faster_and_has_its_own_roughness():
    road = [(box(0, 0, 3, 61),)]
    _, _, _, lawn = chain(falling([0.002] * 60))
    _, _, _, paved = chain(falling([0.002] * 60, roads=road))
    sheet = 0.007 * (0.011 * 100) ** 0.8 / 3.6**0.5 / 0.002**0.4
    rest = (60 / M_PER_FT - 100) / (20.3282 * 0.002**0.5) / 3600
    assert paved.time_of_concentration_h[1, 60] == pytest.approx(max(sheet + rest, 5 / 60), rel=1e-3)
    assert lawn.time_of_concentration_h[1, 60] > 4 * paved.time_of_concentration_h[1, 60]


def test_five_minutes_at_least_and_nothing_without_elevation():
    """HEC-22 (3rd ed.) page 4-68: the least time of concentration is 5 minutes."""
    elev = np.add.outer(-0.1 * np.arange(6.0), np.zeros(8))
    elev[2, 3] = np.nan
    _, _, _, found = chain(make_block(elev), criteria=STEADY.replaced(void_fill_max_m2=0.0))
    assert np.isnan(found.time_of_concentration_h).sum() == 1
    assert np.nanmin(found.time_of_concentration_h) == np.float32(5 / 60)


def test_level_ground_and_ponds_have_the_least_slope():
    level, _, _, found = chain(make_block(np.full((3, 41), 5.0)))
    assert np.isfinite(found.time_of_concentration_h).all()
    pond = np.concatenate((np.linspace(10, 6, 30), np.full(20, 5.0), np.linspace(8, 4, 30)))
    _, _, _, found = chain(make_block([pond] * 3))
    assert np.isfinite(found.time_of_concentration_h).all()
    assert level.grid.shape == (3, 41)


def test_without_a_table_the_two_year_rain_is_assumed_and_said():
    _, _, _, found = chain(falling([0.01] * 9), rain=Rain(depth_mm=100.0, label="stated depth", source="stated depth"))
    assert found.two_year_rain_mm == STEADY.storm.two_year_24h_rain_mm
    assert (found.notes[0].code, found.notes[0].values) == (NoteCode.TWO_YEAR_RAIN_ASSUMED, (("depth_mm", 76.2),))
    assert not chain(falling([0.01] * 9))[-1].notes


def test_runoff_coefficients_by_cover_soil_and_slope():
    """HEC-22 (3rd ed.) Table 3-1: middles of lawns on sandy soil .05-.10, .10-.15, .15-.20, heavy .13-.17, ..."""
    names = ["open space, good", "open space, good", "roof", "woods, good", "developed, low"]
    block = make_block(np.zeros((2, 5)))
    cover = np.array([[CODE_OF[name] for name in names]] * 2, np.uint8)
    group = np.array([[1, 1, 1, 1, 1], [3, 0, 4, 4, 4]], np.uint8)
    slope = np.array([[1.0, 10.0, 1.0, 1.0, 4.0]] * 2)
    found = runoff_coefficients(GroundCover(grid=block.grid, cover=cover, group=group), slope)
    assert found[0] == pytest.approx([0.075, 0.175, 0.85, 0.20, 0.125 + 0.35 * 0.70])
    assert found[1] == pytest.approx([0.15, 0.30, 0.85, 0.20, 0.20 + 0.35 * 0.625])


def test_rational_peaks_at_cells():
    """By hand: a lawn of unknown soil at 4 %, C .20, and pavement, C .825, half each."""
    block = falling([0.04] * 60, roads=[(box(0, 0, 3, 30),)])
    _, flow, storm, found = chain(block)
    cells = np.array([61 + 60, 61 + 29], np.int64)
    peaks = peaks_at(cells, flow=flow, storm=storm, concentration=found, criteria=STEADY)
    assert peaks.code == (PeakCode.RATIONAL, PeakCode.RATIONAL)
    assert peaks.area_m2.tolist() == [61.0, 30.0]
    assert peaks.runoff_coefficient == pytest.approx([(30 * 0.825 + 31 * 0.20) / 61, 0.825])
    at_tc = intensity_mm_h(TABLE, return_period_yr=10, duration_h=peaks.time_of_concentration_h)
    assert peaks.intensity_mm_h == pytest.approx(at_tc)
    assert peaks.peak_m3_s == pytest.approx(peaks.runoff_coefficient * at_tc * peaks.area_m2 / 3.6e6)


def test_rare_storms_have_larger_coefficients_up_to_one():
    block = falling([0.04] * 20, roads=[(box(0, 0, 3, 21),)])
    found = {}
    for storm_text in ("10yr-24h", "100yr-24h"):
        _, flow, storm, gathered = chain(block, rain=rain_of_storm(TABLE, storm_text))
        peaks = peaks_at(np.array([41]), flow=flow, storm=storm, concentration=gathered, criteria=STEADY)
        found[storm_text] = float(peaks.peak_m3_s[0] / peaks.intensity_mm_h[0] / peaks.area_m2[0] * 3.6e6)
    assert found["10yr-24h"] == pytest.approx(0.825)
    assert found["100yr-24h"] == pytest.approx(1.0)  # 1.25 x .825 is more


def test_beyond_its_limits_a_peak_is_not_assessed():
    """HEC-22 (3rd ed.) page 3-5: 200 acres (80 ha)."""
    block = falling([0.04] * 20)
    _, flow, storm, found = chain(block)
    small = STEADY.replaced(rational_area_max_m2=10.0)
    peaks = peaks_at(np.array([21 + 5, 21 + 15]), flow=flow, storm=storm, concentration=found, criteria=small)
    assert np.isnan(peaks.peak_m3_s).tolist() == [False, True] and peaks.code[1] is PeakCode.AREA_TOO_LARGE
    assert Criteria().storm.rational_area_max_m2 == pytest.approx(200 * 43560 * M_PER_FT**2, abs=1)
    short = RainfallTable(
        durations_h=(1 / 60, 3 / 60), return_periods_yr=(2.0, 10.0), depth_mm=((2.0, 3.0), (4.0, 5.0)), source="short"
    )
    _, flow, storm, found = chain(block, rain=rain_of_storm(short, "10yr-3min"))
    peaks = peaks_at(np.array([21 + 5]), flow=flow, storm=storm, concentration=found, criteria=STEADY)
    assert np.isnan(peaks.peak_m3_s[0]) and peaks.code[0] is PeakCode.TIME_TOO_LONG


def test_a_typed_depth_within_the_table_has_its_period_and_without_it_the_graphical_method():
    block = falling([0.04] * 20, roads=[(box(0, 0, 3, 21),)])
    cells = np.array([21 + 20])
    _, flow, storm, found = chain(block, rain=rain_of_depth(120.0, TABLE))
    typed = peaks_at(cells, flow=flow, storm=storm, concentration=found, criteria=STEADY)
    _, flow, named, found = chain(block)
    assert typed.peak_m3_s == pytest.approx(
        peaks_at(cells, flow=flow, storm=named, concentration=found, criteria=STEADY).peak_m3_s
    )
    for table, depth in ((None, 120.0), (TABLE, 500.0)):
        _, flow, storm, found = chain(block, rain=rain_of_depth(depth, table))
        peaks = peaks_at(cells, flow=flow, storm=storm, concentration=found, criteria=STEADY)
        assert set(peaks.code) == {PeakCode.GRAPHICAL} and np.isnan(peaks.intensity_mm_h[0])
        q = float(storm.runoff_mm[1, 20])
        ia_p = 0.2 * (1000 / 98 - 10) * 25.4 / depth
        by_hand = graphical_peak_m3_s(q, 21.0, float(peaks.time_of_concentration_h[0]), ia_p, distribution="II")
        assert peaks.peak_m3_s[0] == pytest.approx(float(by_hand), rel=1e-6)
        texts = " | ".join(note_words(note) for note in peaks.notes)
        assert "type II" in texts and "nearer of 0.1 and 10 h" in texts


def test_a_zone_counts_its_ground_once():
    block = falling([0.04] * 20)
    _, flow, storm, found = chain(block)
    label = np.zeros(block.grid.shape, np.int32)
    label[:, 10] = 1
    label[1, 11:15] = 1
    starts, cells = ragged_from_labels(label, 2)
    zones = peaks_of_zones(starts, cells, flow=flow, storm=storm, concentration=found, criteria=STEADY)
    assert zones.area_m2.tolist() == [11 + 15 + 11, 0]
    assert zones.time_of_concentration_h[0] == found.time_of_concentration_h[1, 14]
    assert zones.code[1] is PeakCode.NOTHING_ARRIVES and np.isnan(zones.peak_m3_s[1])


def test_peaks_onto_lots():
    """A lot at the foot takes what comes down; one at the head takes nothing."""
    lots = [("foot", box(0, 10, 3, 21)), ("head", box(0, 0, 3, 10))]
    block = falling([0.04] * 20, lots=lots)
    _, flow, storm, found = chain(block)
    peaks = peaks_onto_lots(block, flow, storm, found, criteria=STEADY)
    assert peaks.area_m2.tolist() == [30.0, 0.0]
    result = screen_block(block, criteria=STEADY, rain=RAIN)
    row = result.summary.set_index("lot_id").loc["foot"]
    assert row.peak_onto_l_s == pytest.approx(1000 * peaks.peak_m3_s[0]) and row.peak_code == PeakCode.RATIONAL
    assert row.tc_min == pytest.approx(60 * peaks.time_of_concentration_h[0])
    head = result.summary.set_index("lot_id").loc["head"]
    assert head.peak_onto_l_s == 0 and np.isnan(head.tc_min) and head.peak_code == PeakCode.NOTHING_ARRIVES
    assert row.curve_number == 80


@given(st.integers(0, 2**31), st.floats(1.0, 99.0), st.floats(1.01, 1.0e1))
@settings(max_examples=20, deadline=None)
def test_peaks_rise_with_the_return_period_and_times_fall_downstream_never(seed, years, factor):
    rng = np.random.default_rng(seed)
    elev = 50 - 0.05 * np.arange(24.0)[:, None] + rng.normal(0, 0.1, (24, 17))
    block = make_block(elev)
    criteria = Criteria()
    peaks = []
    for period in (years, min(years * factor, 100.0)):
        _, flow, storm, found = chain(block, rain=rain_of_storm(TABLE, f"{period:.3f}yr-24h"), criteria=criteria)
        cells = np.arange(elev.size)
        peaks.append(peaks_at(cells, flow=flow, storm=storm, concentration=found, criteria=criteria).peak_m3_s)
        hours = found.time_of_concentration_h.ravel()
        assert (hours[flow.receiver] >= hours).all()
    assert (peaks[1] >= peaks[0] * (1 - 1e-9)).all() and (peaks[0] > 0).all()
