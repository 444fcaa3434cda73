import numpy as np
import pytest
import shapely

from screening.capture.rejections import REASONS, first_reason
from screening.models import Rain
from screening.pipeline import screen_block
from screening.report.words.capture import limits_words
from screening.schema.codes.capture import Rejection
from screening.schema.codes.packing import unpack
from screening.schema.criteria import Criteria
from tests.blocks import NORTH, WEST, box, make_block

RAIN = Rain(depth_mm=50.0, label="50 mm", source="test")
SHAPE = (50, 61)
OPEN = Criteria.of(setback_lot_line_m=0.0)


def ground(slope=0.02):
    return 50 - slope * np.mgrid[: SHAPE[0], : SHAPE[1]][0].astype(float)


def zones_of(elev=None, criteria=OPEN, hsg="B", **layers):
    soils = [("1", hsg, box(0, 0, *SHAPE))] if hsg else []
    given = {"soils": soils} if hsg else {}
    block = make_block(ground() if elev is None else elev, **(given | layers))
    return screen_block(block, criteria=criteria, rain=RAIN).zones


def has(zones, reason):
    return (zones.reasons & REASONS[reason]) > 0


@pytest.mark.parametrize(
    ("hsg", "status"),
    [
        ("A", "candidate"),
        ("B", "candidate"),
        ("C", "none found"),
        ("D", "none found"),
        ("A/D", "none found"),
        ("B/D", "none found"),
        ("unknown", "not assessed"),
    ],
)
def test_soil_groups(hsg, status):
    zones = zones_of(hsg=hsg)
    assert zones.by_lot.infiltration_status.tolist() == [status]
    if status == "candidate":
        assert zones.table.area_m2.sum() == SHAPE[0] * SHAPE[1]
        assert zones.table.geometry.iloc[0].area == SHAPE[0] * SHAPE[1]


def test_unknown_soil_makes_a_zone_that_is_not_assessed():
    zones = zones_of(hsg="unknown")
    assert zones.table.status.tolist() == ["soil not assessed"]
    assert zones.by_lot.infiltration_area_m2.tolist() == [0.0]
    assert zones_of(hsg=None).by_lot.infiltration_status.tolist() == ["not assessed"]


@pytest.mark.parametrize(("slope", "passes"), [(0.199, True), (0.201, False)])
def test_slope_by_a_hair(slope, passes):
    assert bool(zones_of(ground(slope)).table.area_m2.sum() > 0) is passes


def point(row, col):
    return shapely.Point(WEST + col, NORTH - row)


@pytest.mark.parametrize(
    ("layer", "reason", "setback", "shape"),
    [
        (
            "structures",
            "too near a structure",
            "setback_structure_m",
            ("S", "lot", "house", box(20, 20, 26, 30)),
        ),
        ("wells", "too near a well", "setback_well_m", (point(25, 30),)),
        ("septic", "too near a septic field", "setback_septic_m", (box(20, 20, 26, 30),)),
    ],
)
def test_setbacks_are_measured_to_the_cell_centre(layer, reason, setback, shape):
    criteria = Criteria.of(setback_lot_line_m=0.0, **{setback: 5.0})
    rejected = has(zones_of(criteria=criteria, **{layer: [shape]}), reason)
    row, col = np.mgrid[: SHAPE[0], : SHAPE[1]] + 0.5
    distance = shapely.distance(shapely.points(WEST + col, NORTH - row), shape[-1])
    # A buffer's round corners are polygons: cells within a centimetre or two of the limit may fall either way.
    clear = np.abs(distance - 5.0) > 0.05
    assert np.array_equal(rejected[clear], (distance < 5.0)[clear])
    assert rejected.any() and not rejected.all()


def test_setback_to_the_lot_line():
    zones = zones_of(criteria=Criteria.of(setback_lot_line_m=3.0))
    assert zones.table.area_m2.tolist() == [(SHAPE[0] - 6) * (SHAPE[1] - 6)]


def test_pavement_low_spots_and_neighbours_are_no_candidates():
    elev = ground(0.0)
    elev[30:36, 40:48] -= 0.5
    zones = zones_of(elev, roads=[(box(0, 0, 4, SHAPE[1]),)], lots=[("lot", box(0, 0, 50, 55))])
    assert has(zones, "under a structure or pavement")[:4].all()
    assert has(zones, "in a low spot")[31:35, 41:47].all()
    assert has(zones, "outside the lots")[:, 55:].all()
    expected = 46 * 55 - 6 * 8
    assert zones.table.area_m2.sum() == pytest.approx(expected, abs=30)  # the pan's own walls are steep


@pytest.mark.parametrize(
    ("rows", "cols", "keeps"), [(3, 4, True), (3, 3, False), (2, 6, False), (3, 5, True), (1, 30, False)]
)
def test_room_by_a_hair(rows, cols, keeps):
    # 12 m2 and 2 m are the least: 3 x 4 m is kept, 3 x 3 m is too small; a strip of 2 cells shows a width of 1 m.
    zones = zones_of(hsg=None, soils=[("1", "B", box(10, 10, 10 + rows, 10 + cols)), ("2", "D", box(30, 0, 31, 1))])
    known = zones.table[zones.table.status == "candidate"]
    assert (len(known) == 1) is keeps
    assert has(zones, "too small or narrow")[10 : 10 + rows, 10 : 10 + cols].all() != keeps


def test_lot_says_why_not():
    zones = zones_of(hsg="D")
    limits = unpack(zones.by_lot.infiltration_limits.iloc[0])
    assert limits[0] == (Rejection.SOIL_GROUP, 1.0)
    assert limits_words(zones.by_lot.infiltration_limits.iloc[0]).startswith("soil group not a candidate 100%")


def test_each_lot_has_its_own_zones():
    zones = zones_of(lots=[("a", box(0, 0, 50, 30)), ("b", box(0, 30, 50, 61))])
    assert sorted(zones.table.lot_id) == ["a", "b"]
    assert zones.table.zone_id.tolist() == ["IZ-1", "IZ-2"]
    assert zones.by_lot.infiltration_area_m2.tolist() == [1500.0, 1550.0]


LINE = shapely.LineString([(WEST + 5, NORTH - 25), (WEST + 55, NORTH - 25)])


@pytest.mark.parametrize(
    ("layer", "reason", "setback", "shape"),
    [
        ("wetlands", "too near a wetland", "setback_wetland_m", box(20, 20, 26, 30)),
        ("utilities", "too near a utility", "setback_utility_m", LINE),
    ],
)
def test_setbacks_to_wetlands_and_utilities(layer, reason, setback, shape):
    rejected = has(
        zones_of(criteria=Criteria.of(setback_lot_line_m=0.0, **{setback: 5.0}), **{layer: [(shape,)]}), reason
    )
    row, col = np.mgrid[: SHAPE[0], : SHAPE[1]] + 0.5
    distance = shapely.distance(shapely.points(WEST + col, NORTH - row), shape)
    clear = np.abs(distance - 5.0) > 0.05
    assert np.array_equal(rejected[clear], (distance < 5.0)[clear])
    assert rejected.any() and not rejected.all()


def test_ground_under_trees_is_no_candidate():
    zones = zones_of(trees=[(box(10, 10, 20, 30),)])
    assert np.argwhere(has(zones, "under trees")).min(axis=0).tolist() == [10, 10]
    assert has(zones, "under trees").sum() == 10 * 20
    assert zones.table.area_m2.sum() == SHAPE[0] * SHAPE[1] - 200


def soil(hsg="B", ksat_mm_h=np.nan, water_m=np.nan, restrictive_m=np.nan):
    return [("1", hsg, ksat_mm_h, water_m, restrictive_m, box(0, 0, *SHAPE))]


# NRCS NEH 630 chapter 7, Table 7-1, deep soil: B is more than 4 um/s (14.4 mm/h); shallow water: more than 10 (36).
@pytest.mark.parametrize(
    ("soils", "reason"),
    [
        (soil(ksat_mm_h=14.4), "conductivity not a candidate"),
        (soil(ksat_mm_h=14.41), None),
        (soil(ksat_mm_h=36.0, water_m=0.9), "conductivity not a candidate"),
        (soil(ksat_mm_h=36.1, water_m=0.9), None),
        (soil(ksat_mm_h=36.0, water_m=1.01), None),
        (soil(ksat_mm_h=360.0, water_m=0.59), "conductivity not a candidate"),
        (soil(ksat_mm_h=360.0, restrictive_m=0.49), "conductivity not a candidate"),
        (soil("C", ksat_mm_h=360.0), "soil group not a candidate"),
    ],
)
def test_conductivity_by_a_hair(soils, reason):
    free = Criteria.of(setback_lot_line_m=0.0, separation_water_m=0.0, separation_rock_m=0.0, storage_cover_m=0.0)
    zones = zones_of(criteria=free, hsg=None, soils=soils)
    if reason:
        assert has(zones, reason).all()
        assert zones.by_lot.infiltration_status.tolist() == ["none found"]
    else:
        assert zones.by_lot.infiltration_status.tolist() == ["candidate"]
        assert zones.table.rate_low_mm_h.tolist() == zones.table.rate_high_mm_h.tolist() == [soils[0][2]]


def test_a_conductivity_turns_unknown_soil_away_but_does_not_make_it_known():
    assert zones_of(hsg=None, soils=soil("unknown", 14.4)).by_lot.infiltration_status.tolist() == ["none found"]
    assert zones_of(hsg=None, soils=soil("unknown", 50.0)).by_lot.infiltration_status.tolist() == ["not assessed"]


# Least cover 0.30 m, least stone 0.30 m and 0.914 m to water or rock: 1.514 m.
@pytest.mark.parametrize(("depth_m", "passes"), [(1.514, True), (1.513, False)])
@pytest.mark.parametrize(
    ("name", "reason"), [("water_m", "groundwater too near"), ("restrictive_m", "restrictive layer too near")]
)
def test_depths_by_a_hair(name, reason, depth_m, passes):
    zones = zones_of(hsg=None, soils=soil(**{name: depth_m}))
    assert has(zones, reason).all() != passes
    assert (len(zones.table) == 1) is passes
    if passes:
        assert zones.table.storage_depth_m.tolist() == [pytest.approx(0.30)]


def test_steep_ground_of_some_size_keeps_its_distance_where_it_is_asked_for():
    elev = ground(0.0)
    elev[:10] += np.linspace(5.0, 0.5, 10)[:, None]
    criteria = Criteria.of(setback_lot_line_m=0.0, setback_steep_slope_m=8.0)
    assert not has(zones_of(elev), "too near steep ground").any()
    near = has(zones_of(elev, criteria), "too near steep ground")
    # The slope is 50 % on rows 0 to 8 and 50 % and 25 % where it runs out, on rows 9 and 10.
    assert near[:18].all() and not near[18:].any()
    few = Criteria.of(setback_lot_line_m=0.0, setback_steep_slope_m=8.0, steep_slope_min_area_m2=1e4)
    assert not has(zones_of(elev, few), "too near steep ground").any()


def test_every_rejected_cell_has_its_first_and_all_reasons():
    elev = ground(0.0)
    elev[30:36, 40:48] -= 0.5
    zones = zones_of(
        elev, roads=[(box(0, 0, 4, SHAPE[1]),)], wells=[(point(20, 5),)], lots=[("lot", box(0, 0, 50, 55))]
    )
    first = first_reason(zones.reasons)
    is_zone = np.zeros(SHAPE, bool)
    for shape in zones.table.geometry:
        row, col = np.mgrid[: SHAPE[0], : SHAPE[1]] + 0.5
        is_zone |= shapely.contains_xy(shape, WEST + col, NORTH - row)
    assert np.array_equal(zones.reasons == 0, is_zone)
    assert np.array_equal(first == 0, is_zone)
    assert ((first & zones.reasons) == first).all()
    for name, bit in REASONS.items():
        assert (zones.reasons[first == bit] & (bit - 1) == 0).all(), name
    table = zones.rejections.set_index("reason")
    assert table.first_m2.sum() + zones.table.area_m2.sum() == 50 * 55
    assert table.any_m2["under a structure or pavement"] == table.first_m2["under a structure or pavement"] == 4 * 55
    assert table.any_m2["too near a well"] > table.first_m2["too near a well"] > 0


def test_tests_are_owed_at_the_base_and_below_it():
    zone = zones_of().table.iloc[0]
    # Cover 0.30 m and stone 0.914 m; the pit goes on 0.914 m, the distance that is asked to water and rock.
    assert zone.test_depth_m == pytest.approx(1.214)
    assert zone.pit_depth_m == pytest.approx(2.128)
    assert zone.n_infiltration_tests == 1


@pytest.mark.parametrize(("margin_m", "is_near"), [(60.0, True), (5.0, False)])
def test_distances_are_given_as_far_as_every_window_shows(margin_m, is_near):
    criteria = Criteria.of(setback_lot_line_m=0.0, setback_well_m=10.0, window_margin_m=margin_m)
    zone = zones_of(criteria=criteria, wells=[(point(25, 30),)], lots=[("lot", box(0, 0, 50, 10))]).table.iloc[0]
    assert zone.well_m == pytest.approx(20.0) if is_near else np.isnan(zone.well_m)
    assert zone.lot_line_m == 0.0
