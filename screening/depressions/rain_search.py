"""Which rain brings water to a level: one pour through the hierarchy for each of many rains."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from screening.models import F64, I64

if TYPE_CHECKING:
    from screening.kernels.spill_tree import SpillTree

RAIN_CAP_MM = 1000.0
"""Largest rain that is tried; what holds out shows this value."""

_RAIN_MIN_MM = 1.0
_N_RAINS = 96
_BISECTIONS = 40


@dataclass(frozen=True, eq=False)
class NodeCatchments:
    """The ground that drains into each node, by curve number.

    Parameters
    ----------
    tree
        As water meets it.
    curve_number
        (n_classes,) float64.
    leaf_area_m2
        (n_leaves + 1, n_classes) float64 [m2]; row 0 drains out.
    node_area_m2
        (n_nodes + 1, n_classes) float64 [m2].
    initial_abstraction_ratio
        As in the criteria.
    """

    tree: SpillTree
    curve_number: F64
    leaf_area_m2: F64
    node_area_m2: F64
    initial_abstraction_ratio: float

    def runoff_m(self, rain_mm: F64) -> F64:
        """Runoff depth [m] of each class, (n_rains, n_classes)."""
        from screening.kernels.runoff import curve_number_runoff

        depth = curve_number_runoff(rain_mm[:, np.newaxis], self.curve_number, self.initial_abstraction_ratio)
        return depth / 1000.0


def rain_that_brings(catchments: NodeCatchments, *, node: I64, own_water_m3: F64) -> F64:
    """Find the smallest rain, on dry ground, that leaves a volume of water in a node above its full parts.

    Parameters
    ----------
    catchments
        What drains where.
    node
        (k,) int64.
    own_water_m3
        (k,) float64, at most what the node holds above its parts [m3].

    Returns
    -------
    (k,) float64 [mm], `RAIN_CAP_MM` where no rain that is tried does. Between two rains that are tried the water is
    taken to grow with the runoff of the node's own catchment: exact until another low spot overflows into it.
    """
    from screening.kernels.spill_merge import own_water_by_rain

    if node.size == 0:
        return np.zeros(0)
    rains = np.geomspace(_RAIN_MIN_MM, RAIN_CAP_MM, _N_RAINS)
    nodes, which = np.unique(node, return_inverse=True)
    water = own_water_by_rain(catchments.tree, catchments.leaf_area_m2, catchments.runoff_m(rains), nodes)[:, which]
    reached = water >= own_water_m3
    step = np.argmax(reached, axis=0)
    found = np.full(node.size, RAIN_CAP_MM)
    found[reached[0]] = _RAIN_MIN_MM
    inside = np.flatnonzero(reached.any(axis=0) & ~reached[0])
    if inside.size:
        found[inside] = _between(catchments, rains, water[:, inside], step[inside], node[inside], own_water_m3[inside])
    return found


def _between(catchments: NodeCatchments, rains: F64, water: F64, step: NDArray[np.intp], node: I64, wanted: F64) -> F64:
    """Place the rain between the last that was too small and the first that was not."""
    column = np.arange(step.size)
    low, high = rains[step - 1], rains[step]
    area = catchments.node_area_m2[node]

    def shed(rain_mm: F64) -> F64:
        sheds: F64 = (catchments.runoff_m(rain_mm) * area).sum(axis=1)
        return sheds

    have, got = water[step - 1, column], water[step, column]
    shed_low, shed_high = shed(low), shed(high)
    # A node that is full by the larger rain may have been so earlier: its water grows as fast as in the step before.
    before = np.maximum(step - 2, 0)
    is_full = got >= catchments.tree.own_capacity[node]
    rise = np.where(is_full, have - water[before, column], got - have)
    ran = np.where(is_full, shed_low - shed(rains[before]), shed_high - shed_low)
    fresh = is_full & (rise <= 0)
    # A node that was dry takes all of its ground's runoff from the moment its parts overflow.
    rise, ran = np.where(fresh, shed_high - shed_low, rise), np.where(fresh, shed_high - shed_low, ran)
    with np.errstate(invalid="ignore", divide="ignore"):
        target = shed_low + np.where(rise > 0, (wanted - have) / rise * ran, np.inf)
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        is_short = shed(middle) < target
        low, high = np.where(is_short, middle, low), np.where(is_short, high, middle)
    return 0.5 * (low + high)
