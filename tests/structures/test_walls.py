"""Sides of structures: plans of all kinds, in any turn."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from screening.schema.codes.structures import Side
from screening.schema.criteria import Criteria
from screening.structures.walls import find_walls, sides_of
from screening.terrain.surface import build_surface
from tests.blocks import box, make_block

NAMES = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
HOUSE = shapely.box(0, 0, 12, 8)
L_SHAPE = shapely.Polygon([(0, 0), (14, 0), (14, 5), (6, 5), (6, 11), (0, 11)])


def lengths(footprint, near=(), *, cell_m=1.0):
    return {side.name: side.line.length for side in sides_of(footprint, near, cell_m=cell_m)}


def test_a_rectangle_has_four_sides():
    assert lengths(HOUSE) == {"north": 12, "east": 8, "south": 12, "west": 8}


def test_a_rectangle_turned_by_45_degrees_is_named_by_the_points_between():
    turned = lengths(affinity.rotate(HOUSE, 45))
    # Turned to the left, the wall that faced north faces north-west.
    expected = {"north-west": 12, "north-east": 8, "south-east": 12, "south-west": 8}
    assert turned == pytest.approx(expected)


@pytest.mark.parametrize(("degrees", "name"), [(0, "north"), (20, "north"), (-20, "north"), (25, "north-west")])
def test_a_side_has_the_nearest_of_eight_names(degrees, name):
    assert lengths(affinity.rotate(HOUSE, degrees))[name] == pytest.approx(12)


def test_an_l_has_four_sides_some_in_two_pieces():
    assert lengths(L_SHAPE) == pytest.approx({"north": 14, "east": 11, "south": 14, "west": 11})
    north = next(side for side in sides_of(L_SHAPE, cell_m=1.0) if side.name == "north")
    assert north.line.geom_type == "MultiLineString" and len(north.line.geoms) == 2


def test_a_round_plan_takes_the_directions_of_the_compass():
    sides = lengths(shapely.Point(0, 0).buffer(6))
    assert set(sides) == {"north", "east", "south", "west"}
    assert sum(sides.values()) == pytest.approx(2 * np.pi * 6, rel=0.01)
    assert max(sides.values()) < 1.6 * min(sides.values())


def test_a_small_structure_has_one_side():
    (side,) = sides_of(shapely.box(0, 0, 1.5, 1), cell_m=1.0, is_small=True)
    assert side.name == Side.ALL and side.line.length == 5


def test_a_diagonal_wall_traced_along_cells_is_one_wall():
    """The cells of a square turned by 45 degrees have walls to the four points between, not 40 small ones."""
    row, col = np.mgrid[:25, :25]
    cells = np.argwhere(np.abs(row - 12) + np.abs(col - 12) <= 9)
    traced = shapely.union_all([shapely.box(c, r, c + 1, r + 1) for r, c in cells.tolist()])
    assert set(lengths(traced)) == {"north-east", "south-east", "south-west", "north-west"}


def test_a_court_has_walls_too():
    courtyard = shapely.box(0, 0, 20, 20) - shapely.box(5, 5, 15, 15)
    assert lengths(courtyard) == {"north": 30, "east": 30, "south": 30, "west": 30}


def test_a_shared_wall_is_no_side():
    garage = shapely.box(12, 2, 18, 8)
    # 6 m of the 8 m are the garage's, and half a cell beside it is no ground.
    assert lengths(HOUSE, [garage])["east"] == pytest.approx(1.5)
    assert "west" not in lengths(garage, [HOUSE])
    assert lengths(garage, [HOUSE])["east"] == 6


def test_a_structure_walled_in_keeps_its_sides():
    around = shapely.box(-5, -5, 20, 20) - HOUSE
    assert lengths(HOUSE, [around]) == lengths(HOUSE)


@given(st.sampled_from([HOUSE, L_SHAPE]), st.floats(-44, 44), st.integers(1, 3))
@settings(max_examples=60, deadline=None)
def test_names_turn_with_the_structure(footprint, degrees, quarters):
    first = affinity.rotate(footprint, degrees, origin=(0, 0))
    turned = affinity.rotate(first, 90 * quarters, origin=(0, 0))
    # A quarter turn to the left takes north to west: two names back.
    expected = {NAMES[(NAMES.index(name) - 2 * quarters) % 8]: length for name, length in lengths(first).items()}
    assert lengths(turned) == pytest.approx(expected)


def test_feet_are_metres():
    in_feet = lengths(affinity.scale(L_SHAPE, 0.3048, 0.3048, origin=(0, 0)), cell_m=0.3048)
    assert in_feet == pytest.approx({name: length * 0.3048 for name, length in lengths(L_SHAPE).items()})


def walls_of(*structures, shape=(30, 40)):
    block = make_block(100 - 0.01 * np.mgrid[: shape[0], : shape[1]][0], structures=list(structures))
    return find_walls(block, build_surface(block, criteria=Criteria()))


def test_ground_beside_each_side():
    walls = walls_of(("H", "lot", "house", box(10, 8, 16, 20)))
    start, cells = walls.cells_by_side()
    by_name = {side.name: cells[start[n] : start[n + 1]] for n, side in enumerate(walls.sides)}
    # 12 cells along, and the corner that the wall ends at, going clockwise.
    assert {name: own.size for name, own in by_name.items()} == {"north": 13, "east": 7, "south": 13, "west": 7}
    assert set(np.divmod(by_name["north"], 40)[0]) == {9}
    assert np.divmod(by_name["north"], 40)[1].max() == 20
    assert walls.n_footprint_cells().tolist() == [72]
    assert np.array_equal(np.sort(cells), walls.ring_of(0))


def test_each_cell_beside_a_wall_belongs_to_one_side():
    walls = walls_of(
        ("A", "lot", "house", affinity.rotate(box(5, 5, 13, 15), 30)),
        ("B", "", "house", box(5, 25, 9, 30)),
        ("C", "lot", "shed", box(20, 20, 21, 22)),
    )
    assert [walls.sides[n].structure for n in np.unique(walls.side[walls.side >= 0])] == [0, 0, 0, 0, 2]
    assert walls.structure.tolist() == [0, 2]
    assert walls.sides[-1].name == Side.ALL
    start, cells = walls.cells_by_side()
    assert start[-1] == cells.size == walls.ring_of(0).size + walls.ring_of(1).size


def test_small_steps_stay_in_the_line_but_make_no_wall():
    bay = shapely.union_all([HOUSE, shapely.box(4, 8, 7, 8.5)])
    sides = {side.name: side for side in sides_of(bay, cell_m=1.0)}
    assert {name: side.line.length for name, side in sides.items()} == {"north": 13, "east": 8, "south": 12, "west": 8}
    (edge,) = sides["north"].edges
    assert edge.normal == pytest.approx((0, 1)) and edge.line.bounds[3] == 8.5
    # Of 2 m, it has walls to the east and the west.
    deep = lengths(shapely.union_all([HOUSE, shapely.box(4, 8, 7, 10)]))
    assert deep == {"north": 12, "east": 10, "south": 12, "west": 10}
