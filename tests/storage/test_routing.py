import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.errors import InputError
from screening.storage.routing import drawdown_h, route_storage
from tests.storage.storages import bed, chambers, galleries, inflow, inflows, peer_stored_m3, rates

IN, FT = 25.4, 0.3048


def test_drawdown_through_the_base_is_depth_voids_over_rate():
    # 36 in at 0.4 and 0.5 in/h: 28.8 h; with a safety factor of 2: 57.6 h (New Jersey ch. 9.3; arithmetic).
    storage = bed(depth_m=3 * FT)
    assert drawdown_h(storage, design_rate_mm_h=0.5 * IN) == pytest.approx(28.8, abs=1e-9)
    slow = drawdown_h(storage, design_rate_mm_h=0.25 * IN)
    assert slow == pytest.approx(57.6, abs=1e-9) and 48 < slow < 72
    assert drawdown_h(storage, design_rate_mm_h=0.0) == math.inf


def test_drawdown_with_sides_is_the_integral():
    # V = n A y, q = f (A + P y): t = n A / (f P) ln(1 + P d / A).
    storage, rate = bed(), 0.01
    area, perimeter = storage.footprint_m2, storage.perimeter_m
    by_hand = 0.4 * area / (rate * perimeter) * math.log(1 + perimeter * 0.9 / area)
    assert drawdown_h(storage, design_rate_mm_h=10.0, with_sides=True) == pytest.approx(by_hand, rel=1e-12)


def test_a_storm_by_hand():
    # 15 m2 at 10 mm/h takes 0.15 m3/h. 1 h of 3 m3/h holds 2.85; 1 h without loses 0.15; then 6 m3/h fills 5.4.
    routing = route_storage(inflow(3.0, 0.0, 6.0, step_h=1.0), bed(), design_rate_mm_h=10.0)
    assert routing.stored_m3.tolist() == pytest.approx([0.0, 2.85, 2.7, 5.4])
    assert routing.level_m.tolist() == pytest.approx([0.0, 0.475, 0.45, 0.9])
    assert routing.infiltrated_m3.tolist() == pytest.approx([0.15] * 3)
    assert routing.overflow_m3.tolist() == pytest.approx([0.0, 0.0, 6.0 - 0.15 - 2.7])
    assert routing.emptying_h == pytest.approx(36.0)
    assert routing.time_h.tolist() == [0.0, 1.0, 2.0, 3.0]


def test_water_that_soaks_away_as_it_comes_is_never_held():
    routing = route_storage(inflow(0.05, 0.15, step_h=1.0), bed(), design_rate_mm_h=10.0)
    assert routing.stored_max_m3 == 0.0 and routing.emptying_h == 0.0
    assert routing.infiltrated_m3.tolist() == pytest.approx([0.05, 0.15])


def test_storage_empties_within_a_step():
    # 1.5 m3 held after 1 h of 1.65 m3; it needs 10 h of a step of 20 h.
    first = route_storage(inflow(1.65, step_h=1.0), bed(), design_rate_mm_h=10.0)
    assert first.emptying_h == pytest.approx(10.0)
    flow = inflow(*([1.65] + [0.0] * 12), step_h=1.0)
    held = route_storage(flow, bed(), design_rate_mm_h=10.0).stored_m3
    assert held[-3:] == pytest.approx([0.0] * 3, abs=1e-12) and held[10] == pytest.approx(0.15)


@settings(max_examples=150, deadline=None)
@given(inflows, galleries, rates, st.booleans())
def test_no_water_is_lost_or_made(flow, gallery, rate, with_sides):
    routing = route_storage(flow, gallery, design_rate_mm_h=rate, with_sides=with_sides)
    assert abs(routing.residual_m3) <= 1e-9 * max(flow.total_m3, 1e-9)
    for part in (routing.stored_m3, routing.infiltrated_m3, routing.overflow_m3):
        assert (part >= -1e-9).all()
    assert (routing.stored_m3 <= gallery.capacity_m3 * (1 + 1e-12)).all()
    # In every single step too.
    balance = flow.volume_m3 - routing.infiltrated_m3 - routing.overflow_m3 - np.diff(routing.stored_m3)
    assert np.abs(balance).max() <= 1e-9 * max(flow.total_m3, 1e-9)


@settings(max_examples=60, deadline=None)
@given(inflows, galleries, st.floats(0.1, 200.0), st.floats(1.05, 4.0))
def test_faster_ground_holds_less_and_overflows_less(flow, gallery, rate, factor):
    slow = route_storage(flow, gallery, design_rate_mm_h=rate)
    fast = route_storage(flow, gallery, design_rate_mm_h=rate * factor)
    sides = route_storage(flow, gallery, design_rate_mm_h=rate, with_sides=True)
    for other in (fast, sides):
        assert (other.stored_m3 <= slow.stored_m3 + 1e-9).all()
        assert other.overflow_total_m3 <= slow.overflow_total_m3 + 1e-9
        assert other.emptying_h <= slow.emptying_h + 1e-9


@settings(max_examples=60, deadline=None)
@given(inflows, galleries, st.floats(0.1, 200.0), st.booleans())
def test_splitting_the_steps_changes_nothing(flow, gallery, rate, with_sides):
    whole = route_storage(flow, gallery, design_rate_mm_h=rate, with_sides=with_sides)
    halves = inflow(*np.repeat(flow.volume_m3 / 2.0, 2), step_h=flow.step_h / 2.0)
    split = route_storage(halves, gallery, design_rate_mm_h=rate, with_sides=with_sides)
    assert np.allclose(split.stored_m3[::2], whole.stored_m3, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("with_sides", [False, True])
@pytest.mark.parametrize("storage", [bed(), chambers()])
def test_levels_agree_with_a_general_solver(storage, with_sides):
    flow = inflow(*(np.array([0.1, 0.25, 0.2, 0.1, 0.06]) * storage.capacity_m3), step_h=0.7)
    routing = route_storage(flow, storage, design_rate_mm_h=12.0, with_sides=with_sides)
    peer = peer_stored_m3(flow, storage, 12.0, with_sides=with_sides)
    assert 0.3 * storage.capacity_m3 < peer.max() < storage.capacity_m3
    # Chambers narrow between the knots of the curve: 64 of them over their height.
    assert routing.stored_m3[1:] == pytest.approx(peer, rel=1e-5)


def test_a_level_between_two_equal_flows_stays():
    storage = bed()
    steady = 0.010 * (storage.footprint_m2 + storage.perimeter_m * 0.5)
    flow = inflow(*([steady * 50.0] * 40), step_h=50.0)
    routing = route_storage(flow, storage, design_rate_mm_h=10.0, with_sides=True)
    assert routing.level_m[-1] == pytest.approx(0.5, abs=1e-6) and routing.overflow_total_m3 == 0.0


@pytest.mark.parametrize("n_ulp", range(-4, 5))
@pytest.mark.parametrize("storage", [bed(), bed(7.3, 3.1, 1.1, 0.37), chambers()])
def test_inflow_as_fast_as_full_storage_soaks_away_ends(storage, n_ulp):
    rate = 0.013 * (storage.footprint_m2 + storage.perimeter_m * storage.depth_m)
    for _ in range(abs(n_ulp)):
        rate = math.nextafter(rate, math.inf if n_ulp > 0 else 0.0)
    flow = inflow(3.0 * storage.capacity_m3, rate, rate, 0.0, step_h=1.0)
    routing = route_storage(flow, storage, design_rate_mm_h=13.0, with_sides=True)
    assert routing.stored_m3[1:4].tolist() == pytest.approx([storage.capacity_m3] * 3)
    assert abs(routing.residual_m3) < 1e-9


@pytest.mark.parametrize("rate", [-1.0, math.inf, math.nan])
def test_impossible_rates_are_refused(rate):
    with pytest.raises(InputError):
        route_storage(inflow(1.0), bed(), design_rate_mm_h=rate)
