import numpy as np
import pytest

from screening.schema.criteria import Criteria
from screening.terrain.surface import build_surface
from tests.blocks import box, make_block
from tests.depressions.test_ponding import pond
from tests.kernels.matrices import NESTED

CRITERIA = Criteria()


def found_in(block, criteria=CRITERIA):
    found, _, _ = pond(block, 50.0, criteria)
    surface = build_surface(block, criteria=criteria)
    return surface, found


def bowl(n_rows=60, n_cols=70, radius=20.0, depth=1.0, kind="paraboloid", cell_m=1.0):
    row, col = np.mgrid[:n_rows, :n_cols].astype(float)
    reach = np.hypot(row - n_rows / 2 + 0.5, col - n_cols / 2 + 0.5) * cell_m / radius
    shape = {"paraboloid": reach**2 - 1, "cone": reach - 1}[kind]
    return 10.0 + depth * np.minimum(shape, 0.0)


@pytest.mark.parametrize(
    ("kind", "volume"),
    # Closed forms: a paraboloid holds pi R^2 H / 2, a cone pi R^2 H / 3.
    [("paraboloid", np.pi * 100 / 2), ("cone", np.pi * 100 / 3)],
)
@pytest.mark.parametrize("cell_m", [1.0, 0.5])
def test_volume_of_analytic_bowls(kind, volume, cell_m):
    size = int(30 / cell_m), int(34 / cell_m)
    block = make_block(bowl(*size, radius=10.0, kind=kind, cell_m=cell_m), cell_m=cell_m)
    _, found = found_in(block)
    row = found.table.iloc[0]
    assert len(found.table) == 1
    assert row.volume_m3 == pytest.approx(volume, rel=0.004)
    # The lowest cell centre lies up to half a cell diagonal from the middle.
    assert row.depth_max_m == pytest.approx(1.0, abs=0.071 * cell_m)
    assert row.spill_elev_m == pytest.approx(10.0)
    assert row.geometry.area == pytest.approx(row.area_m2)
    assert found.depth_m.sum() * cell_m**2 == pytest.approx(row.volume_m3, rel=1e-6)


def test_the_published_nested_matrix():
    # Barnes, Callaghan & Wickert 2020/2021, unit tests of the authors' code: volume of the merged depression 111.
    _, found = found_in(make_block(NESTED))
    assert found.table.volume_m3.tolist() == [111.0]
    assert found.table.spill_elev_m.tolist() == [9.0]
    assert found.table.pit_elev_m.tolist() == [1.0]
    assert found.table.area_m2.tolist() == [36.0]


def test_catchment_of_a_bowl_in_a_tilted_plane():
    # The bowl takes the strip of ground uphill of it, and no other.
    row, _ = np.mgrid[:60, :70].astype(float)
    elev = bowl(radius=10.0) - 10 + 50 - 0.02 * row
    _, found = found_in(make_block(elev))
    spot = found.table.iloc[0]
    assert spot.contributing_area_m2 > spot.area_m2
    assert 15 * 30 < spot.contributing_area_m2 < 25 * 45
    assert spot.edge_contaminated


def test_lots_and_structures_that_full_water_touches():
    block = make_block(
        bowl(),
        lots=[("west", box(0, 0, 60, 35)), ("east", box(0, 35, 60, 70)), ("far", box(0, 0, 2, 2))],
        structures=[("in", "west", "house", box(28, 24, 33, 30)), ("out", "west", "house", box(2, 4, 8, 10))],
    )
    surface, found = found_in(block)
    assert found.table.lot_id.tolist() == ["west, east"]
    assert found.table.structure_ids.tolist() == ["in"]
    # No water stands inside the walls.
    assert found.depth_m[surface.structure_index > 0].max() == 0


def test_a_walled_court_is_marked_and_not_measured():
    walls = [
        ("N", "lot", "house", box(10, 10, 12, 20)),
        ("S", "lot", "house", box(18, 10, 20, 20)),
        ("W", "lot", "house", box(12, 10, 18, 12)),
        ("E", "lot", "house", box(12, 18, 18, 20)),
    ]
    elev = 50 - 0.02 * np.mgrid[:30, :34][0]
    _, found = found_in(make_block(elev, structures=walls))
    spot = found.table.iloc[0]
    assert spot.is_enclosed
    assert np.isnan(spot.volume_m3) and np.isnan(spot.depth_max_m)
    assert found.depth_m.max() == 0


def test_shallow_and_small_low_spots_are_left_out():
    _, found = found_in(make_block(bowl(depth=0.09)))
    assert found.table.empty and found.table.columns[0] == "low_spot_id"
    _, found = found_in(make_block(bowl(radius=1.4)))
    assert found.table.empty


def test_low_spots_are_numbered_by_volume():
    elev = np.full((40, 80), 10.0)
    elev[10:14, 10:14] -= 0.5
    elev[10:20, 40:60] -= 0.5
    _, found = found_in(make_block(elev))
    assert found.table.low_spot_id.tolist() == ["LS-1", "LS-2"]
    assert found.table.volume_m3.tolist() == [100.0, 8.0]
