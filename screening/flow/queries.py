"""Questions to a flow field: what drains through a place, where water runs from it, where all of it leaves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from screening.errors import InputError
from screening.flow.dispersive import accumulate_weight, context_area_of
from screening.flow.places import Place, cells_in
from screening.grid import draw_path, polygonize_cells
from screening.models import F32, F64, I64, Bool, FlowField, freeze
from screening.schema.codes.flow import Compass, PathEnd

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True, kw_only=True, eq=False)
class Catchment:
    """The ground that drains through a place, the place itself included.

    Parameters
    ----------
    is_upstream
        bool (n_rows, n_cols).
    outline
        Polygon or MultiPolygon along the cell edges [m].
    area_m2
        Area [m2], with `context_area_m2`.
    context_area_m2
        Part of it that lies beyond the window, which mask and outline do not show [m2].
    edge_contaminated
        Whether unseen water may arrive from outside the window or from gaps: the area is then a lower bound.
    """

    is_upstream: Bool
    outline: BaseGeometry
    area_m2: float
    edge_contaminated: bool
    context_area_m2: float = 0.0

    def __post_init__(self) -> None:
        freeze(self.is_upstream)


@dataclass(frozen=True, eq=False)
class FlowPath:
    """The way of the water by steepest descent from a cell to its outlet.

    Parameters
    ----------
    line
        LineString through cell centres, downstream [m], straight from end to end of a pipe; a Point where the cell
        is itself the outlet.
    cells
        Flat indices of the cells, int64.
    reason
        Why it ends where it ends.
    """

    line: BaseGeometry
    cells: I64
    reason: PathEnd

    def __post_init__(self) -> None:
        freeze(self.cells)


def contributing_area_of(flow: FlowField, where: Place) -> float:
    """Measure the ground that drains through any cell of a place, each cell counted once.

    Parameters
    ----------
    flow
        Where water goes, by steepest descent.
    where
        See `places.Place`; cells of it that have no elevation are left out.

    Returns
    -------
    [m2], the place's own ground included.

    Raises
    ------
    InputError
        The place is empty, not wholly inside the window, or without elevation.
    """
    return _total_through(flow, flow.contributing_area_m2, where)


def weighted_total_of(flow: FlowField, weight: F32 | F64, where: Place) -> float:
    """Add up a weight, such as runoff, over the ground that drains through any cell of a place.

    Parameters
    ----------
    flow, where
        As for `contributing_area_of`.
    weight
        (n_rows, n_cols), any unit.

    Returns
    -------
    In the unit of `weight`.

    Raises
    ------
    InputError, GridMismatchError
        As for `contributing_area_of` and `spreading.accumulate_weight`.
    """
    return _total_through(flow, accumulate_weight(flow, weight, method="d8"), where)


def catchment_of(flow: FlowField, where: Place) -> Catchment:
    """Find the ground that drains through any cell of a place.

    Parameters
    ----------
    flow, where
        As for `contributing_area_of`, which is the cheaper if only the area is wanted.

    Raises
    ------
    InputError
        As for `contributing_area_of`.
    """
    from screening.kernels.accumulate import zone_upstream_cells

    grid = flow.grid
    own = _cells_of(flow, where)
    upstream = zone_upstream_cells(flow.receiver, grid.n_rows, grid.n_cols, own, flow.link_cell)
    is_upstream = np.zeros(flow.receiver.size, bool)
    is_upstream[upstream] = True
    beyond = float(context_area_of(flow, np.array([0, own.size], np.int64), own)[0])
    return Catchment(
        is_upstream=is_upstream.reshape(grid.shape),
        outline=polygonize_cells(grid, upstream),
        area_m2=upstream.size * grid.cell_area_m2 + beyond,
        edge_contaminated=bool((flow.edge_sides.ravel()[own] != 0).any()),
        context_area_m2=beyond,
    )


def flow_path_from(flow: FlowField, where: Place) -> tuple[FlowPath, ...]:
    """Follow the water from a place down to where it leaves.

    Parameters
    ----------
    flow, where
        As for `contributing_area_of`.

    Returns
    -------
    One path from each cell through which water steps out of the place, or where it leaves altogether; the one that
    most ground drains through first. Paths that join run on together.

    Raises
    ------
    InputError
        As for `contributing_area_of`.
    """
    from screening.kernels.flow_paths import downstream_path

    own = np.unique(_cells_of(flow, where))
    to = flow.receiver[own]
    steps_out = own[(to == own) | ~np.isin(to, own)]
    largest_first = np.argsort(-flow.contributing_area_m2.ravel()[steps_out], kind="stable")
    paths = [downstream_path(flow.receiver, int(cell)) for cell in steps_out[largest_first]]
    return tuple(FlowPath(draw_path(flow.grid, cells), cells, _reason_to_end(flow, int(cells[-1]))) for cells in paths)


def leaving_area_m2(flow: FlowField, *, method: str = "d8") -> dict[str, float]:
    """Measure the ground by where its water leaves.

    Parameters
    ----------
    flow
        Where water goes.
    method
        One of `spreading.METHODS`.

    Returns
    -------
    As for `leaving_weight` [m2]; the sum is the ground with elevation.
    """
    return leaving_weight(flow, np.full(flow.grid.shape, flow.grid.cell_area_m2), method=method)


def leaving_weight(flow: FlowField, weight: F32 | F64, *, method: str) -> dict[str, float]:
    """Add up a weight, such as runoff, by where its water leaves.

    Parameters
    ----------
    flow, weight, method
        As for `spreading.accumulate_weight`.

    Returns
    -------
    "north", "east", "south", "west" (the sides of the window; the corner cells count half to each side, the cells of
    a window one cell wide likewise), "gap" and "enclosed" (see `codes.flow.PathEnd`), unit of `weight`. The sum is
    that of the weights where there is elevation.

    Raises
    ------
    InputError, GridMismatchError
        As for `spreading.accumulate_weight`.
    """
    grid = flow.grid
    total = accumulate_weight(flow, weight, method=method).ravel()
    outlets = np.flatnonzero(flow.receiver == np.arange(flow.receiver.size))
    row, col = np.divmod(outlets, grid.n_cols)
    on_side = np.stack((row == 0, col == grid.n_cols - 1, row == grid.n_rows - 1, col == 0))
    n_sides = on_side.sum(axis=0)
    inside = float(total[outlets[n_sides == 0]].sum())
    share = on_side / np.maximum(n_sides, 1)
    sides = {name: float(part @ total[outlets]) for name, part in zip(_SIDES, share, strict=True)}
    return {
        **sides,
        PathEnd.GAP.value: inside if flow.nodata_drains else 0.0,
        PathEnd.ENCLOSED.value: 0.0 if flow.nodata_drains else inside,
    }


_SIDES = tuple(side.value for side in (Compass.NORTH, Compass.EAST, Compass.SOUTH, Compass.WEST))


def _reason_to_end(flow: FlowField, outlet: int) -> PathEnd:
    row, col = divmod(outlet, flow.grid.n_cols)
    if row in (0, flow.grid.n_rows - 1) or col in (0, flow.grid.n_cols - 1):
        return PathEnd.WINDOW_EDGE
    # The ground is filled: nothing ends inside the window but beside a gap that drains, or walled in by ones that
    # do not.
    return PathEnd.GAP if flow.nodata_drains else PathEnd.ENCLOSED


def _total_through(flow: FlowField, accumulated: F64, where: Place) -> float:
    from screening.kernels.accumulate import zone_upstream_total

    own = _cells_of(flow, where)
    return float(zone_upstream_total(flow.receiver, accumulated.ravel(), np.array([0, own.size], np.int64), own)[0])


def _cells_of(flow: FlowField, where: Place) -> I64:
    """Flat indices of the cells of a place that have elevation."""
    cells = cells_in(flow.grid, where)
    known = cells[flow.receiver[cells] >= 0]
    if known.size == 0:
        raise InputError(
            "The place has no elevation", got=str(where)[:100], mend="choose a place where the ground is known"
        )
    return known
