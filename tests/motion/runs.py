"""Runs of water over ground made by hand."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from screening.grid import Grid
from screening.motion.ground import lay_ground
from screening.motion.settings import MotionSettings
from screening.motion.solve import Interval, Solved, solve
from tests.blocks import CRS, NORTH, WEST

FREE = MotionSettings(froude_max=10.0, output_s=5.0)
"""Analytic flows here are up to a Froude number of 4: they are not capped."""


@dataclass(frozen=True)
class EvenSupply:
    """The same supply in every interval that rains."""

    rate_m_s: Any
    rain_s: float

    def supply_m_s(self, start_s: float, end_s: float, *, over_s: float) -> Any:
        return self.rate_m_s * (max(min(end_s, self.rain_s) - start_s, 0.0) / over_s)

    def inflow_m3(self, start_s: float, end_s: float) -> float:
        return 0.0


def move(
    elev_m: Any,
    *,
    end_s: float,
    rain_m_s: Any = 0.0,
    rain_s: float = float("inf"),
    cell_m: float = 1.0,
    settings: MotionSettings = FREE,
    watch: Callable[..., None] | None = None,
    links: Any = (),
    depth_m: Any = None,
    n_threads: int = 1,
    **laid: Any,
) -> Solved:
    """Run water over a ground; `laid` goes to `lay_ground`."""
    elev = np.asarray(elev_m, np.float64)
    ground = lay_ground(
        Grid(crs=CRS, west_m=WEST, north_m=NORTH, cell_m=cell_m, n_rows=elev.shape[0], n_cols=elev.shape[1]),
        elev,
        **laid,
    )
    supply = EvenSupply(np.broadcast_to(np.asarray(rain_m_s, float), elev.shape), rain_s)
    cuts = [0.0, rain_s, end_s] if 0 < rain_s < end_s else [0.0, end_s]
    spans = [Interval(end_s=b, is_tracked=True, from_s=a, to_s=b) for a, b in itertools.pairwise(cuts)]
    made = None if watch is None else (lambda: watch)
    return solve(
        ground, supply, spans, settings=settings, links=links, depth_m=depth_m, observer_of=made, n_threads=n_threads
    )


def mm_h(value: float) -> float:
    """Millimetres an hour as metres a second."""
    return value / 3.6e6
