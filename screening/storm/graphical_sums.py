"""What graphical peaks need of the ground above each cell, added up once a storm."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from screening.models import F64, FlowField, Storm, freeze


def has_intensities(storm: Storm) -> bool:
    """Whether the rain has a return period within a rainfall table, so that its intensity is known."""
    rain, years = storm.rain, storm.rain.return_period_yr
    return rain.table is not None and years is not None and math.isfinite(years)


@dataclass(frozen=True, eq=False)
class GraphicalSums:
    """What graphical peaks need of the ground that drains through each cell, flat, float64.

    Parameters
    ----------
    runoff_mm_m2, number_m2
        Runoff depth and curve number times area, added up [mm m2], [m2].
    """

    runoff_mm_m2: F64
    number_m2: F64

    def __post_init__(self) -> None:
        freeze(self.runoff_mm_m2, self.number_m2)


def graphical_sums(flow: FlowField, storm: Storm) -> GraphicalSums | None:
    """Add up what graphical peaks need; None where the rain's intensity is known, and the rational ones hold.

    Parameters
    ----------
    flow, storm
        Of the same window.
    """
    from screening.kernels.accumulate import accumulate

    if has_intensities(storm):
        return None
    sums, inflow = [], flow.inflow
    beyond = (inflow.runoff_m3 * 1000.0, inflow.area_m2 * inflow.curve_number)
    for values, from_beyond in zip((storm.runoff_mm, storm.curve_number), beyond, strict=True):
        weight = np.nan_to_num(values.astype(np.float64)) * flow.grid.cell_area_m2
        weight.ravel()[inflow.cell] += from_beyond
        sums.append(accumulate(flow.receiver, flow.order, weight.ravel()))
    return GraphicalSums(*sums)
