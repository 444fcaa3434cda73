"""Basins, their outlets and the saddles between them, by their definitions, cell by cell."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from screening.kernels.basins import basin_floors, label_basins
from screening.kernels.saddles import find_outlets, find_saddles
from tests.made_ground import bumps

grounds = st.builds(
    lambda seed, shape, is_flat, gaps: bumps(*shape, seed, step_m=0.5 if is_flat else 0.0, gap_share=gaps),
    st.integers(0, 10**6),
    st.sampled_from([(9, 12), (13, 2), (2, 13), (7, 7)]),
    st.booleans(),
    st.sampled_from([0.0, 0.1]),
)


def around(elev, row, col):
    n_rows, n_cols = elev.shape
    for near_row in range(max(row - 1, 0), min(row + 2, n_rows)):
        for near_col in range(max(col - 1, 0), min(col + 2, n_cols)):
            if (near_row, near_col) != (row, col):
                yield near_row, near_col


def pits_of(elev):
    """Level ground, touching by sides or corners, with no lower cell beside it, numbered."""
    pits, n_pits = np.zeros(elev.shape, int), 0
    for height in np.unique(elev[~np.isnan(elev)]):
        parts, n = ndimage.label(elev == height, np.ones((3, 3)))
        for part in range(1, n + 1):
            cells = np.argwhere(parts == part)
            if not any(elev[place] < height for cell in cells for place in around(elev, *cell)):
                n_pits += 1
                pits[parts == part] = n_pits
    return pits, n_pits


@settings(max_examples=100, deadline=None)
@given(grounds)
def test_each_basin_has_one_pit_and_all_that_falls_to_it(elev):
    label, n_basins = label_basins(elev)
    pits, n_pits = pits_of(elev)
    # Level ground leads to the cell before it; where it is bent it may lead to several first cells, each a basin.
    first = {
        cell
        for cell in map(tuple, np.argwhere(label > 0).tolist())
        if not any(
            elev[place] < elev[cell] or (elev[place] == elev[cell] and place < cell) for place in around(elev, *cell)
        )
    }
    assert n_pits <= n_basins == len(first)
    assert sorted(label[cell] for cell in first) == list(range(1, n_basins + 1))
    np.testing.assert_array_equal(label == 0, np.isnan(elev))
    assert all(np.unique(pits[(label == basin) & (pits > 0)]).size <= 1 for basin in range(1, n_basins + 1))
    for cell in map(tuple, np.argwhere(label > 0).tolist()):
        near = [place for place in around(elev, *cell) if label[place] == label[cell]]
        assert cell in first or min(elev[place] for place in near) <= elev[cell]
    floors = basin_floors(elev, label, n_basins)
    assert floors[1:].tolist() == [float(elev[label == basin].min()) for basin in range(1, n_basins + 1)]


@settings(max_examples=100, deadline=None)
@given(grounds, st.booleans())
def test_outlets_are_the_lowest_cells_at_the_end_of_the_data(elev, nodata_drains):
    label, n_basins = label_basins(elev)
    n_rows, n_cols = elev.shape
    wanted = dict.fromkeys(range(1, n_basins + 1), (np.inf, -1))
    for row, col in np.argwhere(label > 0):
        on_edge = row in (0, n_rows - 1) or col in (0, n_cols - 1)
        at_gap = nodata_drains and any(label[place] == 0 for place in around(elev, row, col))
        if (on_edge or at_gap) and elev[row, col] < wanted[label[row, col]][0]:
            wanted[label[row, col]] = (float(elev[row, col]), int(row * n_cols + col))
    outlet_elev, outlet_cell = find_outlets(elev, label, n_basins, nodata_drains)
    assert list(zip(outlet_elev[1:].tolist(), outlet_cell[1:].tolist(), strict=True)) == list(wanted.values())


@settings(max_examples=100, deadline=None)
@given(grounds)
def test_saddles_are_the_lowest_steps_between_two_basins(elev):
    label, _ = label_basins(elev)
    n_cols = elev.shape[1]
    wanted = {}
    for row, col in np.argwhere(label > 0):
        for place in around(elev, row, col):
            pair = tuple(sorted((int(label[row, col]), int(label[place]))))
            if pair[0] in (0, pair[1]):
                continue
            higher = max([(row, col), place], key=lambda cell: (elev[cell], cell == (row, col)))
            height, cell = float(elev[higher]), int(higher[0] * n_cols + higher[1])
            if elev[row, col] == elev[place]:
                cell = None  # of two alike either one
            if pair not in wanted or height < wanted[pair][0]:
                wanted[pair] = (height, {cell})
            elif height == wanted[pair][0]:
                wanted[pair][1].add(cell)
    basin_a, basin_b, saddle_elev, saddle_cell = find_saddles(elev, label, cells_per_saddle=2)
    found = {}
    for a, b, height, cell in zip(
        *(part.tolist() for part in (basin_a, basin_b, saddle_elev, saddle_cell)), strict=True
    ):
        assert a < b and elev.ravel()[cell] == np.float32(height)
        if (a, b) not in found or height < found[a, b][0]:
            found[a, b] = (height, cell)
    assert {pair: height for pair, (height, _) in found.items()} == {
        pair: height for pair, (height, _) in wanted.items()
    }
    for pair, (_, cell) in found.items():
        assert cell in wanted[pair][1] or None in wanted[pair][1]


def by_pair(saddles):
    """Lowest saddle of each pair; strips may find one pair more than once."""
    lowest = {}
    for a, b, height, _ in zip(*(part.tolist() for part in saddles), strict=True):
        lowest[a, b] = min(height, lowest.get((a, b), np.inf))
    return lowest


@pytest.mark.parametrize("rows", [1, 2, 3, 5])
def test_strips_of_any_height_find_the_same(rows, monkeypatch):
    elev = bumps(17, 23, 6, step_m=0.25, gap_share=0.03)
    whole, n_whole = label_basins(elev)
    lowest = by_pair(find_saddles(elev, whole))
    for module in ("basins", "saddles"):
        monkeypatch.setattr(f"screening.kernels.{module}.strip_rows", lambda n, _: np.unique([*range(0, n, rows), n]))
    label, n_basins = label_basins(elev)
    # the same basins, though numbered otherwise
    pairs = np.unique(np.column_stack((label.ravel(), whole.ravel())), axis=0)
    assert n_basins == n_whole and len(pairs) == n_basins + 1
    assert by_pair(find_saddles(elev, whole, cells_per_saddle=1000)) == lowest


def test_water_led_from_strip_to_strip_to_the_first_cell(monkeypatch):
    monkeypatch.setattr("screening.kernels.basins.strip_rows", lambda n, _: np.arange(n + 1))
    elev = np.add.outer(np.arange(4.0), np.arange(3.0)).astype(np.float32)
    label, n_basins = label_basins(elev)
    assert n_basins == 1 and (label == 1).all()
