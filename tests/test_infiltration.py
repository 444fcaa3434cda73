import numpy as np
import pytest
import shapely

from screening.criteria import Criteria
from screening.infiltration import REASONS
from screening.models import Rain
from screening.pipeline import screen_block
from tests.blocks import NORTH, WEST, box, make_block

RAIN = Rain(50.0, "50 mm", "test")
SHAPE = (50, 61)
OPEN = Criteria(setback_lot_line_m=0.0)


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
    criteria = Criteria(setback_lot_line_m=0.0, **{setback: 5.0})
    rejected = has(zones_of(criteria=criteria, **{layer: [shape]}), reason)
    row, col = np.mgrid[: SHAPE[0], : SHAPE[1]] + 0.5
    distance = shapely.distance(shapely.points(WEST + col, NORTH - row), shape[-1])
    # A buffer's round corners are polygons: cells within a centimetre or two of the limit may fall either way.
    clear = np.abs(distance - 5.0) > 0.05
    assert np.array_equal(rejected[clear], (distance < 5.0)[clear])
    assert rejected.any() and not rejected.all()


def test_setback_to_the_lot_line():
    zones = zones_of(criteria=Criteria(setback_lot_line_m=3.0))
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
    assert zones.by_lot.infiltration_why.tolist()[0].startswith("soil group not a candidate 100%")


def test_each_lot_has_its_own_zones():
    zones = zones_of(lots=[("a", box(0, 0, 50, 30)), ("b", box(0, 30, 50, 61))])
    assert sorted(zones.table.lot_id) == ["a", "b"]
    assert zones.table.zone_id.tolist() == ["IZ-1", "IZ-2"]
    assert zones.by_lot.infiltration_area_m2.tolist() == [1500.0, 1550.0]
