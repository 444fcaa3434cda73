import itertools

import numpy as np

from screening.kernels.zones import ragged_from_labels, ring_of_labels

LABEL = np.array([[0, 0, 0, 0, 3], [0, 1, 0, 0, 0], [0, 1, 0, 2, 0], [0, 0, 0, 0, 0]], np.int32)


def lists(starts, cells):
    return [cells[first:last].tolist() for first, last in itertools.pairwise(starts)]


def test_cells_of_each_zone_in_order():
    assert lists(*ragged_from_labels(LABEL, 4)) == [[6, 11], [13], [4], []]


def test_ring_touches_by_side_and_corner_and_may_be_shared():
    rings = lists(*ring_of_labels(LABEL, 4))
    assert rings[0] == [0, 1, 2, 5, 7, 10, 12, 15, 16, 17]
    assert rings[1] == [7, 8, 9, 12, 14, 17, 18, 19]
    assert rings[2] == [3, 8, 9]
    assert rings[3] == []


def test_no_zone_at_all():
    empty = np.zeros((3, 4), np.int32)
    assert lists(*ragged_from_labels(empty, 0)) == [] and lists(*ring_of_labels(empty, 2)) == [[], []]


def test_a_zone_beside_another_has_no_ring_there():
    label = np.array([[1, 2, 0]], np.int32)
    assert lists(*ring_of_labels(label, 2)) == [[], [2]]
