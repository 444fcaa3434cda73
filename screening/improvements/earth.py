"""Ground that each improvement moves: cuts and fills, by its kind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from screening.grid import cells_along, rasterize
from screening.models import BlockResult, Improvement
from screening.schema.codes.improvements import Kind
from screening.schema.work_kinds import Effect, all_kinds


@dataclass(frozen=True, kw_only=True)
class EarthMoved:
    """Columns of `columns.IMPROVEMENT_COLUMNS`; NaN where it cannot be told."""

    cut_max_m: float = float("nan")
    fill_max_m: float = float("nan")
    cut_m3: float = float("nan")
    fill_m3: float = float("nan")


_Measure: TypeAlias = Callable[[Improvement, BlockResult, BlockResult], EarthMoved]


def earth_moved(improvement: Improvement, before: BlockResult, after: BlockResult) -> EarthMoved:
    """Measure the ground that an improvement moves.

    Parameters
    ----------
    improvement
        One of those that stand in `after`.
    before, after
        Of the same window.
    """
    measure = _BY_KIND.get(improvement.kind)
    if all_kinds()[improvement.kind].effect is Effect.OWN:
        # What a kind from outside does to the ground shows in the elevation alone.
        measure = _of_regrade
    return EarthMoved() if measure is None else measure(improvement, before, after)


def _of_trench_drain(improvement: Improvement, before: BlockResult, after: BlockResult) -> EarthMoved:
    deepest = improvement.number("cut_depth_m")
    return EarthMoved(cut_max_m=deepest if deepest == deepest else improvement.number("depth_m"))


def _of_culvert(improvement: Improvement, before: BlockResult, after: BlockResult) -> EarthMoved:
    """Deepest ground above the straight line between its inverts; NaN without both."""
    if "cut_depth_m" in improvement.numbers:
        return EarthMoved(cut_max_m=improvement.number("cut_depth_m"))
    row, col = cells_along(before.flow.grid, improvement.geometry, closed=False).T
    ground_m = before.surface.elev_m[row, col].astype(np.float64)
    level = np.linspace(improvement.number("invert_up_m"), improvement.number("invert_down_m"), ground_m.size)
    above = ground_m - level
    return EarthMoved(cut_max_m=float(np.nanmax(above))) if np.isfinite(above).any() else EarthMoved()


def _of_line(improvement: Improvement, before: BlockResult, after: BlockResult) -> EarthMoved:
    """Of what is raised or cut along a line, as the surface says."""
    own = after.surface.changes[after.surface.changes["source_id"] == improvement.improvement_id]
    if own.empty:
        return EarthMoved()
    return EarthMoved(cut_max_m=float(own["cut_max_m"].max()), fill_max_m=float(own["raised_max_m"].max()))


def _of_regrade(improvement: Improvement, before: BlockResult, after: BlockResult) -> EarthMoved:
    inside = rasterize(before.flow.grid, [improvement.geometry], [1]) > 0
    rise = (after.block.elev_m.astype(np.float64) - before.block.elev_m)[inside]
    rise, area = rise[np.isfinite(rise)], before.flow.grid.cell_area_m2
    return EarthMoved(
        cut_max_m=float(max(-rise.min(initial=0.0), 0.0)),
        fill_max_m=float(rise.max(initial=0.0)),
        cut_m3=float(-rise[rise < 0].sum() * area),
        fill_m3=float(rise[rise > 0].sum() * area),
    )


_BY_KIND: dict[str, _Measure] = {
    Kind.TRENCH_DRAIN: _of_trench_drain,
    Kind.CULVERT: _of_culvert,
    Kind.BERM: _of_line,
    Kind.WALL: _of_line,
    Kind.SWALE: _of_line,
    Kind.REGRADE: _of_regrade,
}
