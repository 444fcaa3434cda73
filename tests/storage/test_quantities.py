import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.errors import InputError
from screening.report.words.storage import quantity_basis
from screening.storage.quantities import SIDE_SLOPES, Assumptions, estimate_quantities, excavated_m3
from screening.storage.ranges import Range, exactly
from tests.storage.storages import bed, chambers, galleries

PLAIN = Assumptions(
    working_room_m=exactly(0.0),
    bulking=exactly(1.25),
    truck_m3=exactly(8.0),
    stone_t_m3=exactly(1.5),
    stone_spare=exactly(1.0),
    fabric_laps=exactly(1.0),
    pipe_spare=exactly(1.0),
    strip_m=exactly(0.0),
)


def amounts(*arguments, **options):
    return {row.name: row for row in estimate_quantities(*arguments, **options)}


@pytest.mark.parametrize(
    ("depth_m", "printed_m3", "exact_m3"),
    # HEC-22, 3rd edition, example 8-2 (p. 8-18): 26 by 13 m, sides 3 to 1.
    [(0.2, 72, 72.4), (0.4, 155, 154.7), (0.6, 248, 247.5), (0.8, 353, 351.4)],
)
def test_a_pit_with_sloping_sides_is_that_of_hec_22(depth_m, printed_m3, exact_m3):
    volume = excavated_m3(length_m=26.0, width_m=13.0, depth_m=depth_m, side_slope=3.0)
    assert volume == pytest.approx(printed_m3, rel=0.01)
    assert volume == pytest.approx(exact_m3, abs=0.05)


def test_slopes_by_soil_type():
    # OSHA 1926 Subpart P, appendix B, from memory: 3/4, 1 and 1 1/2 to 1.
    assert [SIDE_SLOPES[f"soil {kind}"].high for kind in "ABC"] == [0.75, 1.0, 1.5]


def test_quantities_by_hand():
    # 6 x 2.5 x 0.9 m of stone under 0.5 m of ground, upright sides: 21 m3 dug, 13.5 m3 displaced.
    rows = amounts(bed(), cover_m=0.5, sides="upright", pipe_run_m=12.0, assumptions=PLAIN)
    found = {name: (row.amount.low, row.amount.high) for name, row in rows.items()}
    assert found == {
        "excavation_m3": pytest.approx((21.0, 21.0)),
        "spoil_m3": pytest.approx((13.5 * 1.25, 21.0 * 1.25)),
        "truckloads": (3, 4),
        "stone_m3": pytest.approx((13.5, 13.5)),
        "stone_t": pytest.approx((20.25, 20.25)),
        "fabric_m2": pytest.approx((30.0 + 17.0 * 0.9,) * 2),
        "pipe_m": (12.0, 12.0),
        "restoration_m2": pytest.approx((15.0, 15.0)),
    }


def test_sloping_sides_take_the_opening_with_them():
    rows = amounts(bed(), cover_m=0.5, sides="soil B", assumptions=PLAIN)
    # 1 to 1 over 1.4 m: 8.8 by 5.3 m at the top.
    assert rows["restoration_m2"].amount.low == pytest.approx(8.8 * 5.3)
    assert rows["excavation_m3"].amount.low == pytest.approx(21.0 + 8.5 * 1.96 + 4 / 3 * 1.4**3)


def test_chambers_save_stone():
    gallery = chambers(3, 2)
    stone = amounts(gallery, cover_m=0.5, assumptions=PLAIN)["stone_m3"].amount.low
    inside = 2 * 6.0 * gallery.rows.section.area_below_m2(1.0)
    assert stone == pytest.approx(gallery.footprint_m2 * gallery.depth_m - inside)


@settings(max_examples=60, deadline=None)
@given(galleries, st.floats(0.0, 2.0), st.sampled_from(list(SIDE_SLOPES)), st.floats(0.0, 50.0))
def test_ranges_are_ranges_and_more_ground_takes_more(gallery, cover_m, sides, run_m):
    rows = amounts(gallery, cover_m=cover_m, sides=sides, pipe_run_m=run_m)
    for row in rows.values():
        assert 0.0 <= row.shown.low <= row.amount.low * (1 + 1e-6) and row.amount.high <= row.shown.high * (1 + 1e-6)
        assert quantity_basis(row.kind, row.assumed, row.sides)
    deeper = amounts(gallery, cover_m=cover_m + 0.3, sides=sides, pipe_run_m=run_m)
    for name in ("excavation_m3", "spoil_m3", "restoration_m2"):
        assert deeper[name].amount.high >= rows[name].amount.high
    assert deeper["stone_m3"].amount == rows["stone_m3"].amount
    unknown = amounts(gallery, cover_m=cover_m, sides="unknown", pipe_run_m=run_m)["excavation_m3"].amount
    assert unknown.low <= rows["excavation_m3"].amount.low * (1 + 1e-12)
    assert unknown.high >= rows["excavation_m3"].amount.high * (1 - 1e-12)
    excavated = rows["excavation_m3"].amount
    assert excavated.low >= gallery.footprint_m2 * gallery.depth_m * (1 - 1e-12)


def test_shown_figures_are_not_more_exact_than_they_are():
    rows = amounts(bed(), cover_m=0.5, pipe_run_m=12.34)
    assert (rows["pipe_m"].shown.low, rows["pipe_m"].shown.high) == (12.0, 14.0)
    assert rows["truckloads"].shown.low == int(rows["truckloads"].shown.low)
    dug = rows["excavation_m3"]
    assert "from memory" in quantity_basis(dug.kind, dug.assumed, dug.sides)


def test_what_cannot_be_dug_is_refused():
    with pytest.raises(InputError, match="sides"):
        estimate_quantities(bed(), cover_m=0.5, sides="soil D")
    with pytest.raises(InputError):
        estimate_quantities(bed(), cover_m=-0.1)
    with pytest.raises(InputError):
        Assumptions(truck_m3=Range(0.0, 8.0))
