"""Tracers of a driveway's own rain and of its run-on: where each enters, where it leaves, and what it carries."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from screening.driveways.terrain import DrivewayTerrain, sample_cells
from screening.grid import Grid
from screening.models import F64, I32, I64, U8, FlowField, freeze

OWN, BESIDE, THROUGH = 0, 1, 2
"""Rain on the driveway itself; rain beside it in a cell that it covers in part; what drains to it from other cells."""
_INTO = 0.02
"""How far over the line between two cells a tracer begins, in cells."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Tracers:
    """The tracers of one driveway that are on it at any time.

    Parameters
    ----------
    kind
        OWN, BESIDE or THROUGH, int64 (n,).
    cell
        Flat index in the window of the cell it rains on, or of that which it comes from, int64.
    weight
        OWN and BESIDE: area [m2]; THROUGH: share of what drains through its cell. float64.
    leaves_at_m, enters_at_m
        Place along the outline [m]; NaN = does not cross it, or began inside.
    fate
        As from `kernels.tracers.walk_tracers`.
    ponds
        Low spots on its way, int32 (n, 4).
    returned_from, returned_to
        Cells of the driveway whose water comes back to it, and the places of the tracers it comes with, int64.
    """

    kind: I64
    cell: I64
    weight: F64
    leaves_at_m: F64
    enters_at_m: F64
    fate: U8
    ponds: I32
    returned_from: I64
    returned_to: I64

    def __post_init__(self) -> None:
        freeze(self.kind, self.cell, self.weight, self.leaves_at_m, self.enters_at_m)
        freeze(self.fate, self.ponds)
        freeze(self.returned_from, self.returned_to)

    def amounts(self, *, own: float, local: F64, through: F64) -> F64:
        """Give what each tracer carries.

        Parameters
        ----------
        own
            Per square metre of the driveway.
        local
            Per square metre of each cell of the window, flat.
        through
            Added up over all that drains through each cell of the window, flat.

        Returns
        -------
        float64 (n,). Water of the driveway that comes back to it is not counted again.
        """
        amount = np.where(self.kind == OWN, own, local[self.cell]) * self.weight
        is_through = self.kind == THROUGH
        amount[is_through] = through[self.cell[is_through]] * self.weight[is_through]
        back = np.bincount(self.returned_to, through[self.returned_from], minlength=amount.size)
        return np.asarray(np.where(is_through, np.maximum(amount - back * self.weight, 0.0), amount), np.float64)


def send_tracers(terrain: DrivewayTerrain, flow: FlowField) -> Tracers:
    """Send tracers over a driveway and see where they leave it.

    Own rain begins at places spread over it, each standing for its part of the area that the driveway covers in its
    cell. Run-on comes from where steepest descent leads it over the line between two cells, or falls beside the
    driveway in a cell that it covers in part; what passes by without touching the driveway is none of it.

    Parameters
    ----------
    terrain
        From `driveway_ground.lay_out`.
    flow
        Of the window.
    """
    from screening.kernels.tracers import NEVER_ENTERED, walk_tracers

    cell_m = terrain.grid.cell_m
    kind, cell, weight, xy, inside = _starts(terrain, flow)
    place = terrain.in_cells(xy)
    edges = np.column_stack(
        (
            terrain.in_cells(terrain.outline.edges[:, :2]),
            terrain.in_cells(terrain.outline.edges[:, 2:4]),
            terrain.outline.edges[:, 4] / cell_m,
        )
    )
    leaves_at, enters_at, fate, ponds = walk_tracers(
        elev=terrain.filled_m,
        receiver=terrain.receiver,
        code=terrain.code,
        pond=terrain.pond,
        edges=np.ascontiguousarray(edges),
        x=np.ascontiguousarray(place[:, 0]),
        y=np.ascontiguousarray(place[:, 1]),
        is_inside=inside,
    )
    # What begins a hair inside came over the outline there.
    came_over = (kind == THROUGH) & (inside > 0)
    enters_at[came_over] = terrain.outline.nearest_to(xy[came_over]) / cell_m
    kept = fate != NEVER_ENTERED
    returned_from, returned_cell = _comes_back(terrain, flow)
    kind, cell, weight = kind[kept], cell[kept], weight[kept]
    source, to = _match(returned_cell, cell, kind)
    return Tracers(
        kind=kind,
        cell=cell,
        weight=weight,
        leaves_at_m=leaves_at[kept] * cell_m,
        enters_at_m=enters_at[kept] * cell_m,
        fate=fate[kept],
        ponds=ponds[kept],
        returned_from=returned_from[source],
        returned_to=to,
    )


def _starts(terrain: DrivewayTerrain, flow: FlowField) -> tuple[I64, I64, F64, F64, U8]:
    """Kind, cell of the window, weight, place [m] and whether inside, of every tracer."""
    import shapely

    window, piece = flow.grid, terrain.grid
    owner, xy, inside = sample_cells(terrain)
    covered = terrain.covered_frac.ravel()[owner] * piece.cell_area_m2
    area = np.where(inside > 0, covered, piece.cell_area_m2 - covered)
    n_alike = np.zeros((2, covered.size and int(owner.max()) + 1))
    np.add.at(n_alike, (inside, owner), 1.0)
    rain = (
        np.where(inside > 0, OWN, BESIDE).astype(np.int64),
        terrain.window_cells(owner, window),
        area / n_alike[inside, owner],
        xy,
        inside,
    )
    source, source_xy, share = _sources(terrain, flow)
    shapely.prepare(terrain.shape)
    is_in = shapely.contains_xy(terrain.shape, source_xy[:, 0], source_xy[:, 1]).astype(np.uint8)
    run_on = (np.full(source.size, THROUGH, np.int64), source, share, source_xy, is_in)
    has_area = np.concatenate((rain[2], run_on[2])) > 0

    def joined(number: int) -> Any:
        return np.concatenate((rain[number], run_on[number]))[has_area]

    return joined(0), joined(1), joined(2), joined(3), joined(4)


def _sources(terrain: DrivewayTerrain, flow: FlowField) -> tuple[I64, F64, F64]:
    """Cells outside that drain to a cell of the driveway: where their water steps over, and the share of it."""
    window = flow.grid
    own, around = _zone(terrain, window)
    to = flow.receiver[around]
    stepping = around[np.isin(to, own) & (to != around)]
    from_xy, to_xy = _centres(window, stepping), _centres(window, flow.receiver[stepping])
    at = (from_xy + to_xy) / 2.0 + _INTO * (to_xy - from_xy)
    falls = np.isin(flow.link_target, own) & ~np.isin(flow.link_cell, own)
    falling = flow.link_cell[falls]
    stepping_only = ~np.isin(stepping, falling)
    xy = np.concatenate((at[stepping_only], _centres(window, flow.link_target[falls])))
    cells = np.concatenate((stepping[stepping_only], falling)).astype(np.int64)
    return cells, xy, np.ones(cells.size)


def _zone(terrain: DrivewayTerrain, window: Grid) -> tuple[I64, I64]:
    """Cells of the window that the driveway touches, and the others of its piece."""
    is_own = terrain.covered_frac.ravel() > 0
    cells = terrain.window_cells(np.arange(is_own.size, dtype=np.int64), window)
    return cells[is_own], cells[~is_own]


def _centres(grid: Grid, cells: I64) -> F64:
    row, col = np.divmod(cells, grid.n_cols)
    return np.column_stack((grid.x_of(0) + col * grid.cell_m, grid.y_of(0) - row * grid.cell_m)).astype(np.float64)


def _comes_back(terrain: DrivewayTerrain, flow: FlowField) -> tuple[I64, I64]:
    """Cells of the driveway whose water leaves it and comes back, and the last cell outside on its way."""
    from screening.kernels.inflow_cells import where_it_comes_back

    own, _ = _zone(terrain, flow.grid)
    known = own[flow.receiver[own] >= 0]
    to = flow.receiver[known]
    is_zone = np.zeros(flow.receiver.size, np.uint8)
    is_zone[own] = 1
    leaving = known[(is_zone[to] == 0)]
    back = where_it_comes_back(flow.receiver, is_zone, leaving)
    return leaving[back >= 0], back[back >= 0]


def _match(returned_cell: I64, cell: I64, kind: I64) -> tuple[I64, I64]:
    """Pairs of a returning flow and the tracer that comes from its last cell outside."""
    through = np.flatnonzero(kind == THROUGH)
    order = through[np.argsort(cell[through], kind="stable")]
    at = np.searchsorted(cell[order], returned_cell)
    found = at < order.size
    found[found] = cell[order[at[found]]] == returned_cell[found]
    return np.flatnonzero(found).astype(np.int64), order[at[found]].astype(np.int64)
