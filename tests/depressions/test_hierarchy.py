import numpy as np
import pytest

from screening.depressions.hierarchy import build_depression_hierarchy, level_at_volume, volume_at_level
from screening.errors import InputError
from screening.flow.routing import route_flow
from screening.schema.criteria import Criteria
from screening.terrain.surface import build_surface
from tests.blocks import make_block
from tests.kernels.matrices import NESTED
from tests.made_ground import bumps


def hierarchy_of(elev, cell_m=1.0):
    surface = build_surface(make_block(elev, cell_m=cell_m), criteria=Criteria())
    return surface, build_depression_hierarchy(surface, criteria=Criteria())


def test_the_published_nested_case_in_square_metres():
    # Barnes, Callaghan & Wickert, fill-spill-merge unit tests: 73, 2 and 111 cell units.
    _, tree = hierarchy_of(NESTED, cell_m=2.0)
    assert sorted(tree.table.volume_m3) == [8.0, 292.0, 444.0]
    assert tree.table.area_m2.max() == 36 * 4
    assert tree.table.columns.tolist()[:2] == ["node", "parent"]


def test_level_of_a_volume_by_hand():
    # Barnes, Callaghan & Wickert: volume 8 over 5 cells whose elevations add up to 10 stands at 18/5.
    elev = np.full((3, 7), 9.0)
    elev[1, 1:6] = [0, 1, 2, 3, 4]
    _, tree = hierarchy_of(elev)
    assert level_at_volume(tree, 1, 35.0) == pytest.approx(9.0)
    # 8 m3: the pool covers cells 0 to 4 only from 10 m3 on; over 0..3 it stands at (8 + 6) / 4 = 3.5.
    assert level_at_volume(tree, 1, 8.0) == pytest.approx(3.5)
    assert level_at_volume(tree, 1, 12.0) == pytest.approx(22 / 5)
    assert volume_at_level(tree, 1, 22 / 5) == pytest.approx(12.0)
    assert level_at_volume(tree, 1, 0.0) == 0.0 and volume_at_level(tree, 1, -1.0) == 0.0


def test_level_and_volume_are_each_other_s_inverse_in_every_node():
    _, tree = hierarchy_of(bumps(40, 55, 5))
    assert len(tree.table) > 50
    for row in tree.table.itertuples():
        assert volume_at_level(tree, row.node, row.spill_elev_m) == pytest.approx(row.volume_m3, rel=1e-9)
        for share in (0.1, 0.5, 0.9):
            level = level_at_volume(tree, row.node, share * row.volume_m3)
            assert volume_at_level(tree, row.node, level) == pytest.approx(share * row.volume_m3, rel=1e-9)
            assert level < row.spill_elev_m


def test_half_full_cone_and_cap():
    # Closed forms at half depth: cone 13.090 of 104.720; spherical cap (rho 50.5) 39.532 of 157.603.
    row, col = np.mgrid[:61, :67].astype(float)
    reach = np.hypot(row - 30, col - 33) * 0.5
    for shape, volume in ((reach / 10 - 1, 13.090), (49.5 - np.sqrt(np.maximum(50.5**2 - reach**2, 0)), 39.532)):
        _, tree = hierarchy_of(np.minimum(shape, 0.0), cell_m=0.5)
        outermost = int(tree.table[tree.table.parent == 0].nlargest(1, "volume_m3").node.iloc[0])
        assert volume_at_level(tree, outermost, -0.5) == pytest.approx(volume, rel=0.01)


def test_outermost_nodes_cover_what_the_fill_raises():
    surface, tree = hierarchy_of(bumps(50, 70, 6))
    flow = route_flow(surface, criteria=Criteria())
    raised = (flow.filled_elev_m.astype(np.float64) - surface.routed_elev_m).sum()
    assert tree.table[tree.table.parent == 0].volume_m3.sum() == pytest.approx(raised, rel=1e-9)
    assert tree.cell.size == (flow.filled_elev_m > surface.routed_elev_m).sum()


def test_what_a_node_cannot_hold_is_refused():
    _, tree = hierarchy_of(NESTED)
    with pytest.raises(InputError, match="does not hold"):
        level_at_volume(tree, 1, 1e6)
    with pytest.raises(InputError, match="above the low spot"):
        volume_at_level(tree, 1, 99.0)
    for node in (0, 4):
        with pytest.raises(InputError, match="no such node"):
            level_at_volume(tree, node, 0.0)
