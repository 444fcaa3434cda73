"""Ground of each curve number and sums by label, against counting with numpy; the runoff equation by hand."""

import numpy as np
import pytest

from screening.kernels.runoff import area_by_class, curve_number_runoff, sum_by_label

CLASSES = np.array([39.0, 68.0, 98.0], np.float32)


@pytest.mark.parametrize("seed", range(20))
def test_cells_of_each_class_in_each_label(seed):
    rng = np.random.default_rng(seed)
    label = rng.integers(-2, 4, 60).astype(np.int32)
    # 61 is no class, NaN is unknown; runs of one class, and changes from any to any
    number = np.repeat(rng.choice(np.array([39, 68, 98, 61, np.nan], np.float32), 30), 2)
    expected = [[np.sum((label == one) & (number == value)) for value in CLASSES] for one in range(4)]
    assert area_by_class(label, number, CLASSES, 4).tolist() == expected


def test_no_classes_count_nothing():
    label, number = np.zeros(3, np.int32), np.array([39, 98, np.nan], np.float32)
    assert area_by_class(label, number, CLASSES[:0], 2).shape == (2, 0)


@pytest.mark.parametrize("seed", range(5))
def test_sums_by_label(seed):
    rng = np.random.default_rng(seed)
    label = rng.integers(0, 5, 40).astype(np.int32)
    value = np.where(rng.random(40) < 0.2, np.nan, rng.random(40)).astype(np.float32)
    expected = [np.nansum(value[label == one].astype(np.float64)) for one in range(5)]
    assert sum_by_label(label, value, 5) == pytest.approx(expected, rel=1e-12)


def test_runoff_by_hand():
    """TR-55 eq. 2-3 with S = 25.4 (1000/80 - 10) = 63.5 mm: 100 mm give (100 - 12.7)^2 / (100 + 50.8) mm."""
    rain, number = np.array([100.0, 12.7, 12.8, 0.0, 10.0]), np.array([80.0, 80.0, 80.0, 80.0, 100.0])
    expected = [87.3**2 / 150.8, 0.0, 0.1**2 / 63.6, 0.0, 10.0]
    assert curve_number_runoff(rain, number, 0.2) == pytest.approx(expected, rel=1e-9)
    assert curve_number_runoff(np.array([0.0, 0.5]), np.array([100.0, 100.0]), 0.2).tolist() == [0.0, 0.5]
