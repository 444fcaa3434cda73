"""Over which edge a driveway sheds: ground by formulas, whose shares are known exactly."""

import dataclasses

import numpy as np
import pytest
import shapely
from scipy.integrate import quad
from shapely import affinity

from screening.driveways.outline import trace_outline
from screening.report.tables.files import table_of
from screening.schema.codes.driveways import ShapeLimit
from screening.schema.criteria import Criteria
from tests.blocks import NORTH, WEST
from tests.driveways_by_hand import LONG, at, balance_error, own_by_side, study

LENGTH, WIDTH = 20.0, 4.0


def exact_low_end(ratio):
    """Share that leaves over the low end of a plane that falls across by `ratio` of what it falls along."""
    if ratio == 0:
        return 1.0
    reach = WIDTH / ratio
    return reach / 2 / LENGTH if reach <= LENGTH else 1 - LENGTH * ratio / 2 / WIDTH


@pytest.mark.parametrize("slope", [0.005, 0.05, 0.3])
@pytest.mark.parametrize("ratio", [0.0, 0.1, 0.25, 0.5, 1.0, 3.0])
def test_plane(slope, ratio):
    result = study(lambda x, y: 50 - slope * x - slope * ratio * y, LONG)
    sides = own_by_side(result)
    assert sides["E"] == pytest.approx(exact_low_end(ratio), abs=0.01)
    assert sides["N"] == pytest.approx(1 - exact_low_end(ratio), abs=0.01)
    assert sides["W"] == sides["S"] == 0
    assert balance_error(result) < 1e-9
    row = result.driveways.iloc[0]
    assert row["shape"] == "planar to one side"
    assert row.long_slope_pct == pytest.approx(100 * slope, rel=1e-3)
    assert row.cross_slope_pct == pytest.approx(100 * slope * ratio, abs=1e-3)
    assert row.long_falls_to == "east"


@pytest.mark.parametrize("angle", [10, 30, 45, 77])
@pytest.mark.parametrize("shift", [0.0, 0.4])
def test_a_plane_turned_and_shifted_by_parts_of_cells(angle, shift):
    about = shapely.Point(WEST + 30.3 + shift, NORTH - 28.2 - shift)
    turned = affinity.rotate(affinity.translate(LONG, 0.3 + shift, -0.2 - shift), angle, origin=about)
    way = np.radians(angle)

    def ground(x, y):
        along = np.cos(way) * (x - 30) + np.sin(way) * (y + 28)
        across = -np.sin(way) * (x - 30) + np.cos(way) * (y + 28)
        return 50 - 0.05 * along - 0.0125 * across

    result = study(ground, turned)
    sides = own_by_side(result, turned_deg=angle, about=about)
    assert sides["E"] == pytest.approx(0.4, abs=0.01)
    assert sides["N"] == pytest.approx(0.6, abs=0.01)
    row = result.driveways.iloc[0]
    # Cells count by the share of them that is covered, so no area is lost or gained at any angle.
    assert row.own_m3 == pytest.approx(80 * 0.0940375, rel=1e-4)
    assert row.long_slope_pct == pytest.approx(5, rel=1e-3)
    assert row.cross_slope_pct == pytest.approx(1.25, rel=1e-3)
    assert balance_error(result) < 1e-9


@pytest.mark.parametrize("offset", [-1.5, -0.5, 0.0, 0.5, 1.0])
def test_crown(offset):
    """A ridge along it sheds to both sides by where it runs; sampled ridges lie on the middle lines of cells."""
    result = study(lambda x, y: 50 - 0.03 * np.abs(y + 28 - offset), LONG)
    sides = own_by_side(result)
    assert sides["N"] == pytest.approx((2 - offset) / 4, abs=1e-9)
    assert sides["S"] == pytest.approx((2 + offset) / 4, abs=1e-9)
    row = result.driveways.iloc[0]
    if offset == 0:
        assert (row["shape"], row.line_offset_to) == ("crowned", "") and row.line_offset_m < 1e-6
    if offset == 0.5:
        assert row["shape"] == "crowned" and 0.3 < row.line_offset_m < 0.6 and row.line_offset_to == "north"


def test_crowned_and_falling():
    """Either side of the ridge is a plane of its own, and falls across as much as along."""
    result = study(lambda x, y: 50 - 0.03 * np.abs(y + 27.5) - 0.03 * x, LONG)
    sides = own_by_side(result)
    assert sides["E"] == pytest.approx((1.5**2 + 2.5**2) / 2 / (LENGTH * WIDTH), abs=0.01)
    assert sides["N"] == pytest.approx((1.5 * LENGTH - 1.5**2 / 2) / (LENGTH * WIDTH), abs=0.01)


def test_trough():
    result = study(lambda x, y: 50 + 0.03 * np.abs(y + 28) - 0.02 * x, LONG)
    assert own_by_side(result)["E"] == pytest.approx(1, abs=1e-9)
    row = result.driveways.iloc[0]
    assert row["shape"] == "trough" and row.crown_m < -0.02
    edges = result.driveway_study.edges
    low = edges[(edges.own_frac > 0.9)]
    assert len(low) == 1 and low.length_m.iloc[0] == pytest.approx(4)


def test_warped():
    """A hyperbolic paraboloid: x squared less y squared is kept on the way down, so all shares are known."""
    result = study(lambda x, y: 50 - 0.01 * (x - 20) * (y + 28), LONG)
    sides = own_by_side(result)
    half = WIDTH / 2
    over_east = quad(lambda y: LENGTH - np.sqrt(LENGTH**2 - half**2 + y * y), -half, half)[0] / (LENGTH * WIDTH)
    over_west = half * half / 2 / (LENGTH * WIDTH)
    assert sides["W"] == pytest.approx(over_west, abs=0.005)
    assert sides["E"] == pytest.approx(over_east, abs=0.005)
    assert sides["N"] == pytest.approx(1 - over_west - over_east, abs=0.005)
    assert sides["S"] == 0


def test_a_sag_holds_its_volume_and_sheds_the_rest():
    """A basin on the driveway: what stays is no more than its cells hold, the rest overflows."""

    def ground(x, y):
        return 50 - 0.01 * x - np.clip(0.3 - 0.1 * np.hypot(x - 30, y + 28), 0, None)

    result = study(ground, LONG)
    row = result.driveways.iloc[0]
    storms = result.driveway_study.storms.iloc[0]
    points = result.driveway_study.low_points
    held = points[points.kind == "holds water"]
    assert len(held) == row.n_low_points == 1
    assert storms.stays_m3 == pytest.approx(held.volume_l.iloc[0] / 1000)
    assert 0 < storms.stays_m3 < storms.own_m3
    assert balance_error(result) < 1e-9
    at_low = shapely.Point(WEST + 30, NORTH - 28)
    assert held.geometry.iloc[0].distance(at_low) < 1.5
    small = study(ground, LONG, rain=dataclasses.replace(result.storm.rain, depth_mm=2.0, label="2 mm"))
    # Own rain of 2 mm on pavement is 0.16 mm; what comes through the sag stays there.
    assert 0 < small.driveways.own_stays_frac.iloc[0] < 1
    assert balance_error(small) < 1e-9


def test_run_on_is_what_other_ground_sheds():
    """A plane across: the strip uphill of it crosses it and leaves below, and nothing else does."""
    result = study(lambda x, y: 50 + 0.05 * y, LONG)
    row = result.driveways.iloc[0]
    strip_m2 = LENGTH * 26
    assert row.run_on_area_m2 == pytest.approx(strip_m2)
    assert row.run_on_m3 == pytest.approx(strip_m2 * float(result.storm.runoff_mm[5, 30]) / 1000, rel=1e-6)
    edges = result.driveway_study.edges
    assert row.run_on_to_lawn_frac == pytest.approx(1)
    below = edges[edges.run_on_frac > 0]
    assert below.run_on_frac.sum() == pytest.approx(1)
    assert below.geometry.centroid.y.max() == pytest.approx(NORTH - 30)
    above = edges[edges.enters_l > 0]
    assert above.enters_l.sum() == pytest.approx(1000 * row.run_on_m3)
    assert above.geometry.centroid.y.min() == pytest.approx(NORTH - 26)


def test_water_beside_it_does_not_count():
    """A plane along it: what runs beside the driveway never crosses its long edges."""
    result = study(lambda x, y: 50 - 0.05 * x, affinity.translate(LONG, 0, 0.5))
    row = result.driveways.iloc[0]
    assert row.run_on_m3 == pytest.approx(WIDTH * 20 * float(result.storm.runoff_mm[5, 30]) / 1000, rel=0.3)
    assert own_by_side(result)["E"] == pytest.approx(1)


def test_water_that_comes_back_is_not_counted_twice():
    """A driveway with an arm: water leaves one arm, and runs onto the other."""
    shape = shapely.union_all([at(20, -40, 24, -20), at(24, -24, 40, -20), at(24, -40, 40, -36)])
    result = study(lambda x, y: 50 + 0.05 * y + 0.0 * x, shape)
    row = result.driveways.iloc[0]
    uphill = 20 * 20 * float(result.storm.runoff_mm[5, 30]) / 1000
    between = 16 * 12 * float(result.storm.runoff_mm[30, 30]) / 1000
    assert row.run_on_m3 == pytest.approx(uphill + between, rel=1e-6)
    assert balance_error(result) < 1e-9


@pytest.mark.parametrize("kind", ["garage", "house"])
def test_the_garage_line_takes_what_runs_to_it(kind):
    """The wall is no dam: water that runs to it is counted there, and none where the ground falls away from it."""
    garage = ("G", "lot", kind, at(40, -31, 46, -25))
    toward = study(lambda x, y: 50 - 0.05 * x, LONG, structures=[garage])
    row = toward.driveways.iloc[0]
    assert row.own_to_wall_frac == pytest.approx(1)
    assert row.wall_m3 == pytest.approx(row.own_m3 + row.run_on_to_wall_frac * row.run_on_m3)
    line = toward.driveway_study.edges[toward.driveway_study.edges.own_frac > 0]
    assert set(line.sheds_to) == {"garage" if kind == "garage" else "structure"}
    assert set(line.sheds_to_id) == {"G"} and line.length_m.sum() == pytest.approx(4)
    away = study(lambda x, y: 50 + 0.05 * x, LONG, structures=[garage])
    assert away.driveways.own_to_wall_frac.iloc[0] == 0


def test_what_lies_beyond_each_edge():
    """A garage at one end, a street at the other, a neighbour's driveway and lot on the sides."""
    result = study(
        lambda x, y: 50 - 0.05 * x + 0.0 * y,
        LONG,
        lots=[("lot", at(18, -32, 48, -26))],
        structures=[("G", "lot", "garage", at(40.5, -31, 46, -25))],
        roads=[(at(10, -50, 19.5, -10),)],
    )
    edges = result.driveway_study.edges
    found = {}
    for line, receiver in zip(edges.geometry, edges.sheds_to, strict=True):
        middle = line.interpolate(0.5, normalized=True)
        found.setdefault((round(middle.x - WEST) // 20, round(NORTH - middle.y)), set()).add(receiver)
    assert found[(2, 28)] == {"garage"}
    assert found[(1, 28)] == {"street"}
    # North: the lot ends there; within reach of the street its verge.
    assert found[(1, 26)] == {"neighbour", "street"}
    assert found[(1, 30)] == {"lawn"}


def test_without_a_roads_layer_street_and_neighbour_are_not_told_apart():
    result = study(lambda x, y: 50 + 0.05 * x, LONG, lots=[("lot", at(20, -32, 48, -24))])
    west = result.driveway_study.edges[result.driveway_study.edges.own_frac > 0.5]
    assert west.sheds_to.tolist() == ["street or neighbour"]
    assert result.driveways.own_to_beyond_frac.iloc[0] == pytest.approx(1)


@pytest.mark.parametrize("cell_m", [0.5, 1.0, 2.0])
def test_shares_do_not_hang_on_the_cell_size(cell_m):
    size = (int(60 / cell_m), int(70 / cell_m))
    result = study(lambda x, y: 50 - 0.05 * x - 0.0125 * y, LONG, size=size, cell_m=cell_m)
    assert own_by_side(result)["E"] == pytest.approx(0.4, abs=0.01)


def test_a_small_driveway_is_flagged():
    result = study(lambda x, y: 50 - 0.05 * x, at(20, -28, 24, -26))
    row = result.driveways.iloc[0]
    assert row.is_small and dict(row.shape_limits) == {ShapeLimit.FEW_CELLS: 8.0, ShapeLimit.NARROW: 2.0}
    assert "small: 8 cells" in table_of(result, "driveways").shape_note.iloc[0]
    assert np.isnan(row.cross_slope_pct) and row["shape"] == "not assessed"
    assert own_by_side(result)["E"] == pytest.approx(1)


def test_pieces_of_edge_cover_the_outline_once():
    courtyard = shapely.Polygon(LONG.exterior.coords, [at(28, -29, 31, -27).exterior.coords])
    outline = trace_outline(courtyard)
    assert outline.length_m == pytest.approx(courtyard.exterior.length + courtyard.interiors[0].length)
    result = study(lambda x, y: 50 - 0.05 * x - 0.0125 * y, courtyard, criteria=Criteria.of(driveway_edge_piece_m=3.0))
    edges = result.driveway_study.edges
    assert edges.length_m.sum() == pytest.approx(outline.length_m)
    assert edges.geometry.length.to_numpy() == pytest.approx(edges.length_m.to_numpy())
    assert shapely.union_all(edges.geometry.to_numpy()).hausdorff_distance(courtyard.boundary) < 1e-6
    assert edges.length_m.max() <= 3.0 + 1e-9
    assert edges.own_frac.sum() == pytest.approx(1)
    assert balance_error(result) < 1e-9


def test_driveway_under_a_structure_is_not_assessed():
    result = study(lambda x, y: 50 - 0.05 * x, LONG, structures=[("G", "lot", "garage", at(10, -40, 50, -20))])
    row = result.driveways.iloc[0]
    assert row.shed_shares == () and np.isnan(row.own_m3)
    assert [code for code, _ in row.shape_limits] == [ShapeLimit.NO_OPEN_GROUND]
    assert table_of(result, "driveways").sheds.iloc[0] == ""
