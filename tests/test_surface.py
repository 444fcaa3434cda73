import numpy as np

from screening.criteria import Criteria
from screening.surface import build_surface, fill_small_gaps, raise_walls
from tests.blocks import box, line, make_block


def plane(n_rows, n_cols):
    return (100 + 0.5 * np.arange(n_rows)[:, None] + np.zeros(n_cols)).astype(np.float32)


def test_small_inner_gap_is_interpolated_and_flagged():
    elev = plane(9, 12)
    elev[4, 5] = np.nan
    filled, changed = fill_small_gaps(elev, max_cells=4)
    assert changed.sum() == 1 and changed[4, 5]
    # Between the rows above (101.5) and below (102.5).
    assert 101.5 < filled[4, 5] < 102.5
    assert np.array_equal(filled[~changed], elev[~changed])


def test_gaps_too_large_or_cut_by_the_edge_stay_unknown():
    elev = plane(9, 12)
    elev[2:6, 2:6] = np.nan
    elev[8, 11] = np.nan
    filled, changed = fill_small_gaps(elev, max_cells=15)
    assert not changed.any()
    assert np.array_equal(np.isnan(filled), np.isnan(elev))
    assert fill_small_gaps(elev, max_cells=16)[1].sum() == 16


def test_walls_stand_flat_above_the_highest_ground_they_touch():
    elev = plane(9, 12)
    index = np.zeros(elev.shape, np.int32)
    index[3:5, 4:7] = 1
    routed = raise_walls(elev, index, wall_height_m=3.0)
    # Highest ground beside it is row 5: 102.5 m.
    assert np.array_equal(np.unique(routed[index > 0]), [np.float32(105.5)])
    assert np.array_equal(routed[index == 0], elev[index == 0])


def test_touching_structures_share_one_level_and_others_do_not():
    elev = plane(12, 9)
    index = np.zeros(elev.shape, np.int32)
    index[2:4, 2:4], index[4:6, 2:4], index[9:11, 6:8] = 1, 2, 3
    routed = raise_walls(elev, index, wall_height_m=3.0)
    assert len(np.unique(routed[(index == 1) | (index == 2)])) == 1
    assert routed[9, 6] > routed[2, 2]


def test_structure_over_missing_ground_takes_the_ground_beside_it():
    elev = plane(9, 12)
    elev[3:5, 4:7] = np.nan
    index = np.zeros(elev.shape, np.int32)
    index[3:5, 4:7] = 1
    assert np.array_equal(np.unique(raise_walls(elev, index, wall_height_m=3.0)[index > 0]), [np.float32(105.5)])


def test_footprint_without_a_cell_centre_still_stands():
    block = make_block(plane(6, 8), structures=[("S", "lot", "shed", box(2.6, 3.6, 2.9, 3.9))])
    surface = build_surface(block, criteria=Criteria())
    assert (surface.structure_index == 1).sum() == 1


def test_drain_is_cut_to_a_straight_grade_between_its_inverts():
    elev = plane(3, 9)
    elev[:, 4] += 5
    block = make_block(elev, drains=[("C", 100.2, 100.0, line([(1, 2), (1, 6)]))])
    surface = build_surface(block, criteria=Criteria())
    assert np.allclose(surface.routed_elev_m[1, 2:7], [100.2, 100.15, 100.1, 100.05, 100.0])
    assert np.array_equal(surface.elev_m, elev)  # the ground itself is kept
    assert any(note.subject == "drains" for note in surface.notes)


def test_drain_with_an_end_outside_the_elevation_is_not_opened_and_said():
    elev = plane(3, 9)
    elev[1, 6:] = np.nan
    block = make_block(elev, drains=[("C", 100.2, 100.0, line([(1, 2), (1, 6)]))])
    surface = build_surface(block, criteria=Criteria(void_fill_max_m2=0.0))
    assert np.array_equal(surface.routed_elev_m, elev, equal_nan=True)
    assert any(note.kind == "missing" and "C" in note.text for note in surface.notes)


def embankment():
    """A valley falling to the east at 2 %, dammed by a bank 2 m high and 3 m wide."""
    row, col = np.mgrid[:21, :40].astype(float)
    elev = 100 - 0.02 * col + 0.2 * np.abs(row - 10)
    elev[:, 20:23] = np.maximum(elev[:, 20:23], 101.6)
    return elev


def test_breaching_cuts_a_bank_only_where_asked_and_says_where():
    block = make_block(embankment())
    kept = build_surface(block, criteria=Criteria())
    assert np.array_equal(kept.routed_elev_m, block.elev_m)
    cut = build_surface(block, criteria=Criteria(breach_length_max_m=30.0))
    lowered = cut.routed_elev_m < block.elev_m
    assert lowered[:, 20:23].any(axis=0).all()
    assert cut.routed_elev_m[:, 20:23].min() < 100
    assert np.array_equal(cut.elev_m, block.elev_m)
    assert any(note.subject == "breaching" and "x 500" in note.text for note in cut.notes)


def test_breaching_leaves_what_costs_too_much():
    cut = build_surface(make_block(embankment()), criteria=Criteria(breach_length_max_m=30.0, breach_cost_max_m=1.0))
    assert cut.routed_elev_m[:, 20:23].min() > 101.5
