import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.errors import InputError
from screening.flow.places import Cell, cells_in
from screening.flow.queries import catchment_of, contributing_area_of, flow_path_from, weighted_total_of
from screening.flow.routing import route_flow
from screening.grid import Grid, cells_along
from screening.schema.criteria import Criteria
from screening.terrain.surface import build_surface
from tests.blocks import CRS, NORTH, WEST, box, line, make_block
from tests.made_ground import bumps

GRID = Grid(crs=CRS, west_m=WEST, north_m=NORTH, cell_m=1.0, n_rows=9, n_cols=14)


def routed(elev, cell_m=1.0, **values):
    criteria = Criteria.of(void_fill_max_m2=0.0, **values)
    return route_flow(build_surface(make_block(elev, cell_m=cell_m), criteria=criteria), criteria=criteria)


def falling_east(n_rows=9, n_cols=14, cell_m=1.0):
    return routed(np.tile(50 - 0.1 * cell_m * np.arange(n_cols), (n_rows, 1)), cell_m)


def at(row, col, cell_m=1.0):
    """A point in fractional rows and columns from the window's corner."""
    return shapely.Point(WEST + col * cell_m, NORTH - row * cell_m)


def cells_of(*corners):
    """Rows and columns of a line through fractional (row, col)."""
    path = shapely.LineString([(WEST + col, NORTH - row) for row, col in corners])
    return cells_along(GRID, path, closed=True).tolist()


def test_area_through_a_cell_a_point_a_line_and_a_polygon():
    flow = falling_east(cell_m=2.0)
    for where in (Cell(row=3, col=4), at(3.5, 4.5, 2.0)):
        assert contributing_area_of(flow, where) == 5 * 4
    # A line across the fall takes its rows; along the fall it takes its lowest cell's.
    assert contributing_area_of(flow, line([(1, 6), (5, 6)], cell_m=2.0)) == 5 * 7 * 4
    assert contributing_area_of(flow, line([(2, 3), (2, 9)], cell_m=2.0)) == 10 * 4
    assert contributing_area_of(flow, box(2, 3, 6, 8, cell_m=2.0)) == 4 * 8 * 4
    several = shapely.union_all([at(0.5, 4.5, 2.0), at(0.5, 9.5, 2.0), at(4.5, 0.5, 2.0)])
    assert contributing_area_of(flow, several) == (10 + 1) * 4


def test_polygon_smaller_than_a_cell_takes_what_it_touches():
    flow = falling_east()
    sliver = shapely.box(WEST + 5.6, NORTH - 3.4, WEST + 6.4, NORTH - 3.1)
    assert cells_in(flow.grid, sliver).tolist() == [3 * 14 + 5, 3 * 14 + 6]
    assert contributing_area_of(flow, sliver) == 7


def test_catchment_is_the_ground_above_and_no_more():
    flow = falling_east()
    catchment = catchment_of(flow, box(2, 5, 4, 7))
    expected = np.zeros((9, 14), bool)
    expected[2:4, :7] = True
    np.testing.assert_array_equal(catchment.is_upstream, expected)
    assert catchment.area_m2 == 14 == catchment.outline.area
    assert catchment.outline.equals(box(2, 0, 4, 7))
    assert catchment.edge_contaminated
    assert not catchment.is_upstream.flags.writeable
    dome = routed(50 - np.hypot(*(np.mgrid[:21, :21] - 10.0)))
    assert not catchment_of(dome, Cell(row=10, col=12)).edge_contaminated


def test_path_runs_to_the_edge_and_says_so():
    flow = falling_east()
    (path,) = flow_path_from(flow, Cell(row=3, col=4))
    assert path.reason == "window edge"
    assert path.cells.tolist() == [3 * 14 + col for col in range(4, 14)]
    assert path.line.equals(line([(3, 4), (3, 13)]))
    (end,) = flow_path_from(flow, Cell(row=3, col=13))
    assert end.line.equals(at(3.5, 13.5)) and end.reason == "window edge"


def test_paths_from_a_line_and_a_polygon_start_where_water_steps_out():
    row, col = np.mgrid[:12, :15].astype(float)
    flow = routed(50 - 0.1 * row + 0.05 * np.abs(col - 7))
    across = flow_path_from(flow, line([(3, 5), (3, 9)]))
    areas = [flow.contributing_area_m2.ravel()[path.cells[0]] for path in across]
    assert areas == sorted(areas, reverse=True) and len(across) == 5
    assert len({path.cells[-1] for path in across}) == 1
    out = flow_path_from(flow, box(4, 4, 8, 11))
    assert out[0].cells[0] == 7 * 15 + 7
    assert sorted(path.cells[0] - 7 * 15 for path in out) == list(range(4, 11))


def test_weights_through_a_place():
    flow = falling_east()
    weight = np.arange(9 * 14.0).reshape(9, 14)
    place = box(2, 5, 4, 7)
    assert weighted_total_of(flow, weight, place) == weight[2:4, :7].sum()
    assert weighted_total_of(flow, np.full((9, 14), flow.grid.cell_area_m2), place) == contributing_area_of(flow, place)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), data=st.data())
def test_area_catchment_and_weights_agree_and_no_water_slips_through_a_line(seed, data):
    n_rows, n_cols = 14, 19
    flow = routed(bumps(n_rows, n_cols, seed, step_m=0.5) - 0.6 * np.arange(n_cols, dtype=np.float32))
    place = st.tuples(st.floats(0, n_cols), st.floats(0, n_rows))
    corners = data.draw(st.lists(place, min_size=2, max_size=4))
    path = shapely.LineString([(WEST + x, NORTH - y) for x, y in corners])
    if not path.is_valid:  # all corners in one point
        return
    area = contributing_area_of(flow, path)
    catchment = catchment_of(flow, path)
    assert area == catchment.area_m2 == pytest.approx(catchment.outline.area, rel=1e-9)
    weight = np.random.default_rng(seed).random((n_rows, n_cols))
    assert weighted_total_of(flow, weight, path) == pytest.approx(weight[catchment.is_upstream].sum(), rel=1e-9)
    # From wall to wall across the window: every path from one part to the other meets a cell of the line.
    barrier = shapely.LineString([(WEST + corners[0][0], NORTH), (WEST + corners[1][0], NORTH - n_rows)])
    own = cells_in(flow.grid, barrier)
    side = np.full(n_rows * n_cols, 1)
    side[own] = 0
    row, col = np.divmod(np.arange(side.size), n_cols)
    first = np.array([own[own // n_cols == r].min() % n_cols for r in range(n_rows)])
    side[(side == 1) & (col < first[row])] = 2
    assert (side[flow.receiver] * side != 2).all()


def test_line_through_corners_takes_the_cells_beside_them():
    assert cells_of((1.5, 1.5), (3.5, 3.5)) == [[1, 1], [1, 2], [2, 1], [2, 2], [2, 3], [3, 2], [3, 3]]
    assert cells_of((1.2, 1.5), (1.8, 4.5)) == [[1, 1], [1, 2], [1, 3], [1, 4]]
    # A line that clips the corner of a cell by a hundredth takes that cell as well.
    assert cells_of((1.5, 1.51), (2.5, 2.5)) == [[1, 1], [1, 2], [2, 2]]
    # Along the window's outer edges.
    assert cells_of((9, 11), (9, 14)) == [[8, 11], [8, 12], [8, 13]]
    assert cells_of((7, 14), (9, 14)) == [[7, 13], [8, 13]]
    # Beyond the window nothing is taken.
    assert cells_of((4.5, -30.5), (4.5, 1.5)) == [[4, 0], [4, 1]]


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.floats(-3, 12), st.floats(-3, 17)), min_size=2, max_size=5))
def test_line_takes_every_cell_that_it_crosses(corners):
    path = shapely.LineString([(WEST + col, NORTH - row) for row, col in corners])
    taken = {tuple(cell) for cell in cells_along(GRID, path, closed=True).tolist()}
    for row, col in np.ndindex(9, 14):
        length = path.intersection(box(row, col, row + 1, col + 1)).length
        if length > 1e-6:
            assert (row, col) in taken or path.intersection(box(row, col, row + 1, col + 1).buffer(-1e-6)).length == 0
        elif not path.intersects(box(row, col, row + 1, col + 1).buffer(1e-6)):
            assert (row, col) not in taken


@pytest.mark.parametrize(
    ("where", "words"),
    [
        (Cell(row=9, col=0), "outside the window"),
        (Cell(row=0, col=-1), "outside the window"),
        (shapely.Point(-75.1, 39.9), "not lie inside the window"),
        (box(2, 2, 4, 30), "cut it to the window"),
        (shapely.Polygon(), "no geometry at all"),
        (shapely.Polygon([(WEST, NORTH), (WEST + 2, NORTH - 2), (WEST + 2, NORTH), (WEST, NORTH - 2)]), "Self-inter"),
        (shapely.GeometryCollection([shapely.Point(WEST + 1, NORTH - 1)]), "no known kind"),
        ((3, 4), "no known kind"),
    ],
)
def test_places_that_cannot_be_used_are_refused(where, words):
    with pytest.raises(InputError, match=words):
        contributing_area_of(falling_east(), where)


def test_place_without_elevation_is_refused_and_one_in_part_is_not():
    elev = np.tile(50 - 0.1 * np.arange(14), (9, 1))
    elev[3:6, 4:8] = np.nan
    flow = routed(elev)
    with pytest.raises(InputError, match="no elevation"):
        catchment_of(flow, Cell(row=4, col=5))
    assert contributing_area_of(flow, box(3, 3, 6, 8)) == 3 * 4
    (path, *others) = flow_path_from(flow, Cell(row=4, col=1))
    assert path.reason == "gap" and not others
