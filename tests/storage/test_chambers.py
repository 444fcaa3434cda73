import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.errors import CriteriaError
from screening.schema.codes.storage import SectionShape
from screening.schema.criteria import Criteria, from_mapping
from screening.schema.criteria.storage import CHAMBER_SHAPES
from screening.storage.chambers import chambers_of, largest_field, size_chambers
from screening.storage.gallery import chamber_gallery
from screening.storage.sizing import Soil, try_gallery
from tests.storage.storages import inflow

IN = 0.0254
DEFAULT = chambers_of(Criteria())
STORM = inflow(2.0, 8.0, 12.0, 4.0, 1.0)


def test_the_default_is_common_practice():
    # Common practice, no published source: 12 in of washed stone under the chambers, 6 in over them, chambers of about
    # 30 in, voids of 0.40; 4 ft of depth in all.
    assert DEFAULT.stone_under_m == pytest.approx(12 * IN)
    assert DEFAULT.stone_over_m == pytest.approx(6 * IN)
    assert DEFAULT.section.height_m == pytest.approx(30 * IN)
    assert DEFAULT.void_frac == 0.40
    assert DEFAULT.depth_m == pytest.approx(48 * IN)
    one = DEFAULT.field(n_in_row=1, n_rows=1)
    assert one == chamber_gallery(DEFAULT.section, chamber_length_m=2.0, n_in_row=1, n_rows=1, void_frac=0.4)


def test_chambers_are_described_by_their_own_dimensions():
    own = from_mapping(
        {
            "chamber_height_m": 0.5,
            "chamber_width_m": 0.8,
            "chamber_length_m": 1.1,
            "chamber_shape": "arch",
            "stone_void_frac": 0.35,
        }
    )
    taken = chambers_of(own)
    # A parabola fills two thirds of the box around it.
    assert taken.section.area_below_m2(1.0) == pytest.approx(2 / 3 * 0.5 * 0.8)
    assert (taken.chamber_length_m, taken.void_frac) == (1.1, 0.35)
    by_area = chambers_of(own.replaced(chamber_area_m2=0.3))
    assert by_area.section.area_below_m2(1.0) == pytest.approx(0.3)
    assert chambers_of(Criteria.of(chamber_height_m=0.0)) is None


def test_the_words_for_shapes_are_those_of_sections():
    assert set(CHAMBER_SHAPES) == set(SectionShape) - {SectionShape.GIVEN_AREA}


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"chamber_shape": "round"}, "as wide as it is high"),
        ({"chamber_shape": "triangle"}, "half-ellipse, arch, box, round"),
        ({"chamber_area_m2": 0.92}, "box around the chamber"),
        ({"chamber_height_m": -0.1}, "outside its range"),
    ],
)
def test_chambers_that_cannot_be_are_refused(values, words):
    with pytest.raises(CriteriaError, match=words):
        from_mapping(values)
    assert from_mapping({"chamber_area_m2": 0.9144}).storage.chamber_area_m2 == 0.9144  # 1.2 x 0.762 m


@pytest.mark.parametrize("rate_mm_h", [1.0, 30.0])
def test_the_field_is_just_enough_and_no_longer_than_twice_its_width(rate_mm_h):
    ground = Soil(rate_mm_h)
    sizing = size_chambers(STORM, ground, DEFAULT)
    field = sizing.gallery
    assert sizing.routing.overflow_total_m3 == 0.0
    assert field.length_m <= 2.0 * field.width_m
    n_in_row, n_rows = round(field.rows.row_length_m / 2.0), field.rows.n_rows
    if n_in_row > 1:
        fewer = DEFAULT.field(n_in_row=n_in_row - 1, n_rows=n_rows)
        assert try_gallery(STORM, fewer, ground).routing.overflow_total_m3 > 0.0
    # A row less would have to be longer than twice its width.
    if n_rows > 1:
        longest = DEFAULT.field(n_in_row=n_in_row, n_rows=n_rows - 1)
        while try_gallery(STORM, longest, ground).routing.overflow_total_m3 > 0.0:
            n_in_row += 1
            longest = DEFAULT.field(n_in_row=n_in_row, n_rows=n_rows - 1)
        assert longest.length_m > 2.0 * longest.width_m


@settings(max_examples=60, deadline=None)
@given(st.floats(1.0, 400.0))
def test_the_largest_field_fits_and_one_more_does_not(room_m2):
    field = largest_field(room_m2, DEFAULT)
    one = DEFAULT.field(n_in_row=1, n_rows=1)
    if field is None:
        assert one.footprint_m2 > room_m2
        return
    assert field.footprint_m2 <= room_m2 * (1 + 1e-9)
    longer = DEFAULT.field(n_in_row=round(field.rows.row_length_m / 2.0) + 1, n_rows=field.rows.n_rows)
    assert longer.footprint_m2 > room_m2


def test_a_room_by_a_hair():
    one = DEFAULT.field(n_in_row=1, n_rows=1)
    assert largest_field(one.footprint_m2 * (1 + 1e-6), DEFAULT) == one
    assert largest_field(one.footprint_m2 * (1 - 1e-6), DEFAULT) is None


@settings(max_examples=25, deadline=None)
@given(st.floats(0.5, 60.0), st.floats(1.1, 4.0))
def test_slow_ground_takes_no_fewer_chambers(rate_mm_h, factor):
    slow, fast = (size_chambers(STORM, Soil(rate), DEFAULT) for rate in (rate_mm_h, rate_mm_h * factor))
    n_slow, n_fast = (one.gallery.rows.n_rows * round(one.gallery.rows.row_length_m / 2) for one in (slow, fast))
    # Another number of rows may round up another way by less than a row.
    assert n_fast <= n_slow + max(slow.gallery.rows.n_rows, fast.gallery.rows.n_rows)
