import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from screening.errors import InputError
from screening.hydraulics.grates import (
    TESTED_SLOT_WIDTH_M,
    WEIR_COEFFICIENT,
    Grate,
    Slot,
    crossover_depth_m,
    grate_capacity_m3_s,
    ponding_depth_m,
    slot_capacity_m3_s,
)
from screening.schema.codes.hydraulics import CloggingRule, InflowLaw
from tests.hydraulics.us import CFS, FT, IN

GRATES = st.builds(
    Grate,
    width_m=st.floats(0.02, 1.0),
    length_m=st.floats(0.1, 20.0),
    open_frac=st.floats(0.05, 1.0),
    n_long_edges=st.integers(1, 2),
    n_ends=st.integers(0, 2),
    clogging_rule=st.sampled_from(CloggingRule),
)
CLOGGED = st.floats(0.0, 0.95)


def curb_grate(width_ft, length_ft, **more):
    """Water comes over one long edge and both ends: HEC-22 leaves out the side at the curb."""
    return Grate(width_m=width_ft * FT, length_m=length_ft * FT, open_frac=1.0, n_long_edges=1, n_ends=2, **more)


def test_weir_coefficient_in_metres():
    # HEC-22 (2009) eq. 4-26, p. 4-57: 3.0 in feet, printed 1.66 for metres.
    assert pytest.approx(1.66, abs=0.005) == WEIR_COEFFICIENT


def test_crossover_of_weir_and_orifice():
    # From HEC-22 (2009) eq. 4-26 and 4-27 with P 4 ft and 0.6 ft2 open: 0.2687 ft.
    grate = Grate(width_m=0.3 * FT, length_m=4 * FT, open_frac=0.5)
    assert grate.weir_length_m(clogged_frac=0.0) == pytest.approx(4 * FT)
    assert grate.open_area_m2(clogged_frac=0.0) == pytest.approx(0.6 * FT**2)
    depth = crossover_depth_m(grate, clogged_frac=0.0)
    assert depth / FT == pytest.approx(0.2687, abs=0.001)
    below = grate_capacity_m3_s(grate, depth_m=0.5 * depth, clogged_frac=0.0)
    assert below / CFS == pytest.approx(3.0 * 4 * (0.5 * depth / FT) ** 1.5)
    above = grate_capacity_m3_s(grate, depth_m=2 * depth, clogged_frac=0.0)
    assert above / CFS == pytest.approx(0.67 * 0.6 * math.sqrt(2 * 32.16 * 2 * depth / FT), rel=5e-4)


def test_hec22_example_4_11():
    # HEC-22 (2009) example 4-11, p. 4-58: 6.71 cfs at 0.44 ft asks for P 7.66 ft; a 2 x 6 ft grate whose width is
    # half clogged keeps 8 ft and ponds 0.43 ft.
    clear = Grate(width_m=1 * FT, length_m=7.66 * FT, open_frac=1.0)
    assert grate_capacity_m3_s(clear, depth_m=0.44 * FT, clogged_frac=0.0) / CFS == pytest.approx(6.71, abs=0.05)
    grate = curb_grate(2, 6, clogging_rule=CloggingRule.WIDTH)
    assert grate.weir_length_m(clogged_frac=0.5) / FT == pytest.approx(8.0)
    depth = ponding_depth_m(grate, flow_m3_s=6.71 * CFS, clogged_frac=0.5)
    assert depth / FT == pytest.approx(0.43, abs=0.005)


def test_half_the_width_is_not_half_the_perimeter():
    # HEC-22 (2009) p. 4-58: a 2 x 4 ft grate keeps 6 of 8 ft, but half its area.
    grate = curb_grate(2, 4, clogging_rule=CloggingRule.WIDTH)
    assert [grate.weir_length_m(clogged_frac=c) / FT for c in (0.0, 0.5)] == pytest.approx([8.0, 6.0])
    assert grate.open_area_m2(clogged_frac=0.5) / FT**2 == pytest.approx(4.0)


def test_simple_clogging_halves_both():
    # TxDOT Hydraulic Design Manual, chapter 10 section 6.
    grate = curb_grate(2, 4)
    assert grate.weir_length_m(clogged_frac=0.5) / FT == pytest.approx(4.0)
    assert grate.open_area_m2(clogged_frac=0.5) / FT**2 == pytest.approx(4.0)


@pytest.mark.parametrize(
    ("edge_ft", "flow_cfs", "depth_ft", "abs_ft"),
    [
        # HEC-22 (2009) example 4-14, p. 4-65 (clear), and example 4-19, p. 4-87.
        (8.0, 5.3, 0.36, 0.01),
        (8.0, 9.9, 0.55, 0.005),
    ],
)
def test_depth_over_a_weir(edge_ft, flow_cfs, depth_ft, abs_ft):
    grate = Grate(width_m=2 * FT, length_m=edge_ft * FT, open_frac=1.0)
    assert ponding_depth_m(grate, flow_m3_s=flow_cfs * CFS, clogged_frac=0.0) / FT == pytest.approx(
        depth_ft, abs=abs_ft
    )


def test_weir_of_hec22_example_4_12():
    # HEC-22 (2009) example 4-12, p. 4-62: 3.0 x 8.2 x 0.16^1.5 = 1.6 cfs, over one edge.
    grate = Grate(width_m=1 * FT, length_m=8.2 * FT, open_frac=1.0)
    assert grate_capacity_m3_s(grate, depth_m=0.16 * FT, clogged_frac=0.0) / CFS == pytest.approx(1.6, abs=0.05)


@given(grate=GRATES, clogged=CLOGGED, depths=st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0)))
def test_capture_rises_with_depth_and_falls_with_clogging(grate, clogged, depths):
    low, high = sorted(depths)
    shallow, deep = (grate_capacity_m3_s(grate, depth_m=d, clogged_frac=clogged) for d in (low, high))
    assert 0.0 <= shallow <= deep
    assert deep <= grate_capacity_m3_s(grate, depth_m=high, clogged_frac=0.0) * (1 + 1e-12)


@given(grate=GRATES, clogged=CLOGGED, depth=st.floats(1e-4, 1.0))
def test_ponding_depth_is_the_inverse_of_capture(grate, clogged, depth):
    flow = grate_capacity_m3_s(grate, depth_m=depth, clogged_frac=clogged)
    assert ponding_depth_m(grate, flow_m3_s=flow, clogged_frac=clogged) == pytest.approx(depth)


def test_a_closed_grate_takes_nothing():
    grate = Grate(width_m=0.2, length_m=3.0, open_frac=0.4)
    assert grate_capacity_m3_s(grate, depth_m=1.0, clogged_frac=1.0) == 0.0
    assert ponding_depth_m(grate, flow_m3_s=0.001, clogged_frac=1.0) == math.inf
    assert ponding_depth_m(grate, flow_m3_s=0.0, clogged_frac=1.0) == 0.0
    assert crossover_depth_m(grate, clogged_frac=1.0) == math.inf
    assert grate_capacity_m3_s(grate, depth_m=-0.1, clogged_frac=0.0) == 0.0


def test_slot_in_a_sag():
    # HEC-22 (2009) eq. 4-32 to 4-34, p. 4-63: 10 ft of 1.75 in slot, 1.441 cfs at 0.15 ft, 0.94 L d^0.5 at 0.5 ft.
    slot = Slot(1.75 * IN, 10 * FT)
    assert slot.width_m == TESTED_SLOT_WIDTH_M
    flow, law = slot_capacity_m3_s(slot, depth_m=0.15 * FT, clogged_frac=0.0)
    assert law is InflowLaw.WEIR and flow / CFS == pytest.approx(1.441, rel=0.005)
    flow, law = slot_capacity_m3_s(slot, depth_m=0.5 * FT, clogged_frac=0.0)
    assert law is InflowLaw.ORIFICE and flow / CFS == pytest.approx(0.94 * 10 * math.sqrt(0.5), rel=0.005)
    assert slot_capacity_m3_s(slot, depth_m=0.3 * FT, clogged_frac=0.0)[1] == "transition"


def test_slot_of_hec22_example_4_13_by_formula():
    # HEC-22 (2009) example 4-13, p. 4-64: 4.9 cfs at 3.6 in. The chart gives 10 ft; the formula, whose coefficient
    # the text says varies, 12 ft.
    flow, law = slot_capacity_m3_s(Slot(1.75 * IN, 12 * FT), depth_m=3.6 * IN, clogged_frac=0.0)
    assert law is InflowLaw.TRANSITION and flow / CFS == pytest.approx(4.9, abs=0.05)


@given(
    width=st.floats(0.005, 0.2),
    clogged=CLOGGED,
    depths=st.tuples(st.floats(0.0, 0.3), st.floats(0.0, 0.3)),
)
def test_a_slot_takes_no_less_as_water_rises(width, clogged, depths):
    slot = Slot(width, 3.0)
    low, high = (slot_capacity_m3_s(slot, depth_m=d, clogged_frac=clogged)[0] for d in sorted(depths))
    assert 0.0 <= low <= high


@pytest.mark.parametrize(
    ("measures", "words"),
    [
        ((0.0, 1.0, 0.5), "width_m"),
        ((0.1, -1.0, 0.5), "length_m"),
        ((0.1, 1.0, 0.0), "open_frac"),
        ((0.1, 1.0, 1.5), "at most 1"),
        ((0.1, 1.0, 0.5, 0), "n_long_edges"),
        ((0.1, 1.0, 0.5, 1, 3), "n_ends"),
    ],
)
def test_impossible_grates_are_refused(measures, words):
    with pytest.raises(InputError, match=words):
        Grate(**dict(zip(("width_m", "length_m", "open_frac", "n_long_edges", "n_ends"), measures, strict=False)))
    with pytest.raises(InputError, match="clogged_frac"):
        grate_capacity_m3_s(Grate(width_m=0.1, length_m=1.0, open_frac=0.5), depth_m=0.1, clogged_frac=1.2)
    with pytest.raises(InputError, match="width_m"):
        Slot(0.0, 1.0)
