"""Every rule of the zones with ground that passes it by a hair, and ground that fails it by a hair."""

import numpy as np
import pytest
import shapely

from screening.capture.rejections import REASONS
from screening.schema.criteria import Criteria, choose_profile
from tests.blocks import NORTH, WEST, box
from tests.capture.test_zones import SHAPE, ground, has, point, soil, zones_of

HAIR = 1e-3
DISTANCE_M = 5.5
ALL = np.s_[:, :]
CELL = np.s_[25:26, 30:31]
"""The cell whose centre lies 30.5 m east and 25.5 m south of the corner."""


def straight(gap_m, *, depth_m=6.0):
    """A rectangle whose straight west side lies so far east of the centre of `CELL`."""
    west = WEST + 30.5 + gap_m
    return shapely.box(west, NORTH - 40, west + depth_m, NORTH - 10)


def line_at(gap_m):
    x = WEST + 30.5 + gap_m
    return shapely.LineString([(x, NORTH - 40), (x, NORTH - 10)])


def setback(layer, threshold, make):
    def lot(passes):
        shape = make(DISTANCE_M + (HAIR if passes else -HAIR))
        row = ("S", "lot", "house", shape) if layer == "structures" else (shape,)
        return zones_of(criteria=Criteria.of(setback_lot_line_m=0.0, **{threshold: DISTANCE_M}), **{layer: [row]}), CELL

    return lot


def at_a_well(passes):
    # The corners of the circle round a point are polygons: due east a corner lies on it.
    return setback("wells", "setback_well_m", lambda gap: shapely.Point(WEST + 30.5 + gap, NORTH - 25.5))(passes)


def under(layer):
    def lot(passes):
        # A cell is under what covers its centre.
        shape = straight(HAIR if passes else -HAIR)
        row = ("D", "lot", "driveway", shape) if layer == "driveways" else (shape,)
        return zones_of(**{layer: [row]}), CELL

    return lot


def at_the_lot_line(passes):
    shape = shapely.box(WEST, NORTH - 50, WEST + 30.5 + 3.0 + (HAIR if passes else -HAIR), NORTH)
    return zones_of(criteria=Criteria.of(setback_lot_line_m=3.0), lots=[("lot", shape)]), CELL


def outside(passes):
    shape = shapely.box(WEST, NORTH - 50, WEST + 30.5 + (HAIR if passes else -HAIR), NORTH)
    return zones_of(lots=[("lot", shape)]), CELL


def gap(passes):
    # A gap of one cell, as large as is still filled in, or a hair larger.
    elev = ground()
    elev[25, 30] = np.nan
    return zones_of(elev, Criteria.of(setback_lot_line_m=0.0, void_fill_max_m2=1.0 if passes else 1.0 - HAIR)), CELL


def sloping(passes):
    return zones_of(ground(0.20 + (-HAIR if passes else HAIR))), np.s_[5:45, 5:55]


def group(passes):
    return zones_of(hsg="B" if passes else "C"), ALL


def known(passes):
    return zones_of(hsg="B" if passes else "unknown"), ALL


def conductivity(passes):
    # NEH 630 Table 7-1, no layer and no water within 100 cm: more than 4 um/s = 14.4 mm/h is group B.
    return zones_of(hsg=None, soils=soil(ksat_mm_h=14.4 + (HAIR if passes else 0.0))), ALL


def depth(name):
    def lot(passes):
        # 0.30 m of cover, 0.30 m of stone and 0.914 m below it.
        return zones_of(hsg=None, soils=soil(**{name: 1.514 - (0.0 if passes else HAIR)})), ALL

    return lot


def near_steep(passes):
    # Columns of 1 m: steep from the column whose centre lies 8 m from that of the cell. Its neighbour is steep too,
    # because a slope is taken over three cells.
    elev = ground(0.0)
    elev[:, 38:] -= 2.0 * (np.arange(SHAPE[1] - 38) + 1)
    near = 7.0 - HAIR if passes else 7.0 + HAIR
    return zones_of(elev, Criteria.of(setback_lot_line_m=0.0, setback_steep_slope_m=near)), CELL


def pan(passes):
    # The label of a low spot covers what lies below its spill level: one cell at it, one a hair below.
    elev = ground(0.0)
    elev[23:28, 28:33] -= 0.3
    elev[25, 30] = 50.0 + (HAIR if passes else -HAIR)
    criteria = Criteria.of(setback_lot_line_m=0.0, infiltration_slope_max_pct=200.0, low_spot_min_depth_m=0.1)
    return zones_of(elev, criteria), CELL


def room(passes):
    # 12 m2 and 2 m: 3 x 4 cells, and 3 x 3.
    soils = [("1", "B", box(10, 10, 13, 14 if passes else 13)), ("2", "D", box(30, 0, 31, 1))]
    return zones_of(hsg=None, soils=soils), np.s_[10:13, 10:13]


RULES = {
    "outside the lots": outside,
    "no elevation": gap,
    "under a structure or pavement": under("driveways"),
    "under trees": under("trees"),
    "soil group not a candidate": group,
    "conductivity not a candidate": conductivity,
    "soil group unknown": known,
    "groundwater too near": depth("water_m"),
    "restrictive layer too near": depth("restrictive_m"),
    "too steep": sloping,
    "too near a structure": setback("structures", "setback_structure_m", straight),
    "too near a lot line": at_the_lot_line,
    "too near a well": at_a_well,
    "too near a septic field": setback("septic", "setback_septic_m", straight),
    "too near a wetland": setback("wetlands", "setback_wetland_m", straight),
    "too near a utility": setback("utilities", "setback_utility_m", line_at),
    "too near steep ground": near_steep,
    "in a low spot": pan,
    "too small or narrow": room,
}


def test_there_is_a_lot_for_every_rule():
    assert list(RULES) == list(REASONS)


@pytest.mark.parametrize("reason", RULES)
def test_a_hair_decides(reason):
    (passing, where), (failing, _) = (RULES[reason](passes) for passes in (True, False))
    assert not has(passing, reason)[where].any()
    assert has(failing, reason)[where].all()
    # The hair moves this rule alone.
    others = ~np.uint32(REASONS[reason])
    if reason not in ("no elevation", "outside the lots", "in a low spot"):
        assert np.array_equal(passing.reasons[where] & others, failing.reasons[where] & others)


def test_the_hair_makes_the_zone():
    """What passes every rule is a zone, and what fails one is none."""
    for reason in ("soil group not a candidate", "conductivity not a candidate", "groundwater too near", "too steep"):
        passing, failing = (RULES[reason](passes)[0] for passes in (True, False))
        assert passing.by_lot.infiltration_status.tolist() == ["candidate"], reason
        assert failing.by_lot.infiltration_status.tolist() == ["none found"], reason
        assert failing.rejections.set_index("reason").any_m2[reason] > 0


def test_profiles_compared_on_one_lot():
    """Group C, a septic field, a well and groundwater at 1.7 m: each document finds another zone."""
    layers = {
        "soils": [
            (number, group, np.nan, 1.7, np.nan, box(0, left, 50, right))
            for number, group, left, right in (("1", "C", 0, 30), ("2", "B", 30, 61))
        ],
        "septic": [(box(40, 0, 50, 8),)],
        "wells": [(point(10, 60),)],
    }
    areas = {
        name: zones_of(hsg=None, criteria=choose_profile(name), **layers).by_lot.infiltration_area_m2.iloc[0]
        for name in ("neutral", "new-jersey-2016", "virginia-spec-8", "minnesota", "single-family-2010")
    }
    # The plan of 2010 takes group C and 50 ft to wells; groundwater at 1.7 m leaves 0.186 m more than 1.514 m.
    assert areas["single-family-2010"] > 2 * areas["neutral"] > 0
    # The others say nothing else of group, slope and distances than the neutral set does.
    assert areas["minnesota"] == areas["virginia-spec-8"] == areas["new-jersey-2016"] == areas["neutral"]
    # At 1.4 m the 3 ft of the neutral set and of Minnesota leave no room; the 2 ft of New Jersey do.
    layers["soils"] = [("2", "B", np.nan, 1.4, np.nan, box(0, 0, 50, 61))]
    areas = {
        name: zones_of(hsg=None, criteria=choose_profile(name), **layers).by_lot.infiltration_area_m2.iloc[0]
        for name in ("neutral", "new-jersey-2016", "minnesota")
    }
    assert areas["new-jersey-2016"] > 0 == areas["neutral"] == areas["minnesota"]
