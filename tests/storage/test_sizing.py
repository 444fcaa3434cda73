import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.errors import InputError
from screening.schema.criteria import Criteria, choose_profile
from screening.storage.formulas import deepest_bed_m, quick_footprint_m2
from screening.storage.hyetographs import nrcs_hyetograph, uniform_hyetograph
from screening.storage.inflow import DrainingArea, runoff_inflow
from screening.storage.ranges import Range
from screening.storage.sizing import (
    Soil,
    size_bed_depth,
    size_bed_footprint,
    size_chamber_rows,
    size_over_rates,
    soil_of,
    try_gallery,
)
from tests.storage.storages import ARCH, bed, chambers, inflow, inflows

FT, IN, FT3 = 0.3048, 25.4, 0.3048**3
ROOF = runoff_inflow(nrcs_hyetograph(100.0), [DrainingArea(180.0, 98.0)])


def test_quick_footprint_is_that_of_virginia():
    # Virginia DEQ Specification 8: 500 cu ft, 3 ft, 0.4, f 2 ft/d measured (half of it counts), 0.083 d: 389.7 sq ft.
    area = quick_footprint_m2(
        500 * FT3, depth_m=3 * FT, void_frac=0.4, design_rate_mm_h=0.5 * 2 * FT * 1000 / 24, filling_h=0.083 * 24
    )
    assert area / FT**2 == pytest.approx(389.7, abs=0.5)


def test_deepest_bed_is_that_of_virginia():
    # Virginia DEQ Specification 8, from memory: f 2 ft/d, 2 d, 0.4: 5.0 ft.
    deepest = deepest_bed_m(design_rate_mm_h=0.5 * 2 * FT * 1000 / 24, drawdown_max_h=48.0, void_frac=0.4)
    assert deepest / FT == pytest.approx(5.0, abs=0.01)


def test_depth_of_stone_is_not_depth_of_ponding():
    # Sustainable Technologies LID wiki: ponding of 19.2 f mm at f mm/h, 48 h times voids of 0.4. A bed of stone that
    # empties in the same time is 48 / 0.4 = 120 f mm deep, 6.25 times that.
    deepest = 1000.0 * deepest_bed_m(design_rate_mm_h=1.0, drawdown_max_h=48.0, void_frac=0.4)
    assert deepest == pytest.approx(120.0)
    assert deepest / 19.2 == pytest.approx(6.25)


def test_even_inflow_needs_what_the_formula_says():
    # Even inflow over tf into a bed that loses f A: A = V / (n d + f tf) to the last digit.
    flow = inflow(*[0.75] * 8, step_h=0.25)
    sizing = size_bed_footprint(flow, Soil(20.0, 2.0), depth_m=0.9, void_frac=0.4)
    by_formula = quick_footprint_m2(6.0, depth_m=0.9, void_frac=0.4, design_rate_mm_h=10.0, filling_h=2.0)
    assert sizing.gallery.footprint_m2 == pytest.approx(by_formula, rel=2e-6)
    assert sizing.volume_needed_m3 == pytest.approx(0.4 * 0.9 * by_formula, rel=1e-5)
    assert sizing.drawdown_h == pytest.approx(36.0)
    assert sizing.gallery.length_m == pytest.approx(2 * sizing.gallery.width_m)


def test_sealed_storage_holds_all_of_it():
    sizing = size_bed_footprint(ROOF, Soil(0.0), depth_m=1.0, void_frac=0.4)
    assert sizing.gallery.capacity_m3 == pytest.approx(ROOF.total_m3, rel=1e-5)
    assert sizing.drawdown_h == math.inf and sizing.routing.overflow_total_m3 == 0.0


def test_depth_and_footprint_are_the_same_question():
    ground = Soil(15.0)
    sizing = size_bed_footprint(ROOF, ground, depth_m=0.9, void_frac=0.4)
    back = size_bed_depth(ROOF, ground, length_m=sizing.gallery.length_m, width_m=sizing.gallery.width_m, void_frac=0.4)
    assert back.gallery.depth_m == pytest.approx(0.9, rel=1e-5)


@settings(max_examples=25, deadline=None)
@given(inflows.filter(lambda flow: flow.total_m3 > 0.1), st.floats(1.0, 100.0), st.floats(0.3, 2.0), st.booleans())
def test_the_size_found_is_just_enough(flow, rate, depth_m, with_sides):
    ground = Soil(rate, 2.0, with_sides)
    sizing = size_bed_footprint(flow, ground, depth_m=depth_m, void_frac=0.4)
    assert sizing.routing.overflow_total_m3 == 0.0
    width = sizing.gallery.width_m * 0.999
    smaller = bed(2.0 * width, width, depth_m)
    assert try_gallery(flow, smaller, ground).routing.overflow_total_m3 > 0.0


@settings(max_examples=25, deadline=None)
@given(st.floats(1.0, 100.0), st.floats(1.1, 3.0), st.floats(0.3, 2.0))
def test_slow_ground_a_thin_bed_and_a_large_storm_need_more(rate, factor, depth_m):
    def area(flow, rate, depth_m):
        return size_bed_footprint(flow, Soil(rate), depth_m=depth_m, void_frac=0.4).gallery.footprint_m2

    flow = inflow(*(np.array([0.2, 1.0, 3.0, 1.0, 0.5])))
    first = area(flow, rate, depth_m) * (1 + 1e-5)
    assert area(flow, rate * factor, depth_m) <= first
    assert area(flow, rate, depth_m * factor) <= first
    assert area(inflow(*(flow.volume_m3 / factor)), rate, depth_m) <= first


def test_the_fewest_chambers_are_found():
    ground = Soil(10.0)
    options = {"section": ARCH, "chamber_length_m": 2.0, "n_rows": 2, "void_frac": 0.4}
    sizing = size_chamber_rows(ROOF, ground, **options)
    n_in_row = round(sizing.gallery.rows.row_length_m / 2.0)
    assert n_in_row > 1 and sizing.routing.overflow_total_m3 == 0.0
    one_less = chambers(n_in_row - 1)
    assert try_gallery(ROOF, one_less, ground).routing.overflow_total_m3 > 0.0
    thicker = size_chamber_rows(ROOF, ground, stone_under_m=0.6, **options)
    assert thicker.gallery.rows.row_length_m <= sizing.gallery.rows.row_length_m


def test_a_range_of_rates_gives_a_range_of_sizes():
    slow, fast = size_over_rates(
        lambda ground: size_bed_footprint(ROOF, ground, depth_m=0.9, void_frac=0.4), Soil(1.0, 3.0), Range(5.0, 50.0)
    )
    assert (slow.measured_rate_mm_h, fast.measured_rate_mm_h) == (5.0, 50.0)
    assert fast.design_rate_mm_h == pytest.approx(50.0 / 3.0)
    assert slow.gallery.footprint_m2 > fast.gallery.footprint_m2 and slow.drawdown_h > fast.drawdown_h


def test_the_safety_factor_is_that_of_the_criteria():
    assert soil_of(Criteria(), 30.0).design_rate_mm_h == 15.0
    assert soil_of(Criteria.of(rate_safety_factor=3.0), 30.0).design_rate_mm_h == 10.0
    assert soil_of(choose_profile("virginia-spec-8"), 30.0).design_rate_mm_h == 15.0


def test_feet_and_metres_give_the_same():
    area = size_bed_footprint(ROOF, Soil(0.5 * IN), depth_m=3 * FT, void_frac=0.4).gallery.footprint_m2
    metric = size_bed_footprint(ROOF, Soil(12.7), depth_m=0.9144, void_frac=0.4).gallery.footprint_m2
    assert metric == pytest.approx(area)


def test_what_cannot_be_sized_is_refused():
    dry = runoff_inflow(uniform_hyetograph(5.0, duration_h=1.0), [DrainingArea(100.0, 39.0)])
    with pytest.raises(InputError, match="no water"):
        size_bed_footprint(dry, Soil(10.0), depth_m=1.0, void_frac=0.4)
    with pytest.raises(InputError, match="no water"):
        size_chamber_rows(dry, Soil(10.0), section=ARCH, chamber_length_m=2.0, n_rows=1, void_frac=0.4)
    with pytest.raises(InputError):
        Soil(10.0, 0.5)
    with pytest.raises(InputError):
        size_bed_footprint(ROOF, Soil(10.0), depth_m=0.0, void_frac=0.4)


def test_a_storm_that_no_number_of_chambers_takes_is_refused():
    with pytest.raises(InputError, match="No number of chambers"):
        size_chamber_rows(inflow(1e9), Soil(0.0), section=ARCH, chamber_length_m=2.0, n_rows=1, void_frac=0.4)
