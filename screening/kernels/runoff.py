"""Runoff depth by curve number, and the ground of each curve number."""

import numpy as np

from screening.kernels.compiling import F32, F64, I32, compiled


def curve_number_runoff(rain_mm: F64, curve_number: F64, ratio: float) -> F64:
    """Runoff depth [mm] of rain [mm] on ground of a curve number: TR-55 (1986) eq. 2-1 to 2-4.

    Parameters
    ----------
    rain_mm, curve_number
        float64, broadcast against each other.
    ratio
        Initial abstraction as a share of the potential retention S = 25.4 (1000/CN - 10) mm.

    Returns
    -------
    float64 [mm]; 0 below the initial abstraction.
    """
    retention = (1000.0 / curve_number - 10.0) * 25.4
    excess = np.maximum(rain_mm - ratio * retention, 0.0)
    # Where nothing runs off the quotient may be 0/0: no rain on ground that keeps nothing.
    total = excess + retention
    runoff: F64 = np.divide(excess**2, total, out=np.zeros_like(total), where=total > 0)
    return runoff


def area_by_class(label: I32, number: F32, classes: F32, n_labels: int) -> F64:
    """Count the cells of each class of ground in each label.

    Parameters
    ----------
    label : (n_cells,) int32
        0..n_labels - 1, or negative: not counted.
    number : (n_cells,) float32
        Value of each cell; NaN and values that are no class are not counted.
    classes : (n_classes,) float32
    n_labels : int

    Returns
    -------
    (n_labels, n_classes) float64
    """
    count = np.zeros((n_labels, classes.size))
    _count_by_class(label, number, classes, count)
    return count


def sum_by_label(label: I32, value: F32, n_labels: int) -> F64:
    """Add up the values of each label; NaN counts as nothing.

    Parameters
    ----------
    label : (n_cells,) int32
        0..n_labels - 1.
    value : (n_cells,) float32
    n_labels : int

    Returns
    -------
    (n_labels,) float64
    """
    total = np.zeros(n_labels)
    _add_by_label(label, value, total)
    return total


@compiled
def _add_by_label(label: I32, value: F32, total: F64) -> None:
    # `total` has the cells before this one.
    for cell in range(label.size):
        if not np.isnan(value[cell]):
            total[label[cell]] += np.float64(value[cell])


@compiled
def _count_by_class(label: I32, number: F32, classes: F32, count: F64) -> None:
    found = 0
    # `count` has the cells before this one, and `found` is the class last met.
    for cell in range(label.size):
        if label[cell] < 0:
            continue
        if not (found < classes.size and classes[found] == number[cell]):
            # neighbours are mostly of one class: it is looked up where it changes
            found = 0
            # None of the classes before `found` is that of the cell; past the end it has none, as NaN has.
            while found < classes.size and classes[found] != number[cell]:
                found += 1
        if found < classes.size:
            count[label[cell], found] += 1.0
