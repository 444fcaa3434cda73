"""What is built on the ground and acts on water although it is narrower than a cell: barriers, drains, cuts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from screening.criteria import Criteria
from screening.grid import Grid, cells_along, polygonize_cells
from screening.models import F32, I64, Block, Note


@dataclass(frozen=True, eq=False)
class Change:
    """Cells whose routed level was changed, and by how much: one row of `columns.SURFACE_CHANGE_COLUMNS`."""

    kind: str
    source_id: str
    cells: I64
    raised_m: F32

    def as_row(self, grid: Grid, number: int) -> dict[str, Any]:
        """Measure the change."""
        return {
            "change_id": f"SC-{number}",
            "kind": self.kind,
            "source_id": self.source_id,
            "raised_max_m": max(float(self.raised_m.max()), 0.0),
            "cut_max_m": max(float(-self.raised_m.min()), 0.0),
            "area_m2": self.cells.size * grid.cell_area_m2,
            "volume_m3": float(np.abs(self.raised_m).sum(dtype=np.float64)) * grid.cell_area_m2,
            "geometry": polygonize_cells(grid, self.cells),
        }


def raise_barriers(block: Block, elev_m: F32) -> tuple[F32, list[Change], list[Note]]:
    """Raise kerbs, walls and berms by their height above the ground, so that no flow slips through at a corner.

    Parameters
    ----------
    block
        `barriers` with their heights.
    elev_m
        Ground, float32 [m].

    Returns
    -------
    Raised ground [m]; what was raised; notes. Where barriers cross the higher one counts.
    """
    raised, changes, notes = elev_m.copy(), [], []
    for barrier in block.barriers.itertuples():
        at = tuple(cells_along(block.grid, barrier.geometry, closed=True).T)
        if not at or at[0].size == 0 or np.isnan(barrier.height_m):
            why = "no height is given" if np.isnan(barrier.height_m) else "it lies outside the window"
            notes.append(Note("missing", "barriers", f"barrier {barrier.barrier_id} is not raised: {why}"))
            continue
        raised[at] = np.fmax(raised[at], elev_m[at] + np.float32(barrier.height_m))
        change = _change(barrier.kind, barrier.barrier_id, elev_m, raised, at)
        changes += [change] if change else []
    return raised, changes, notes


def open_drains(block: Block, elev_m: F32, *, criteria: Criteria) -> tuple[F32, list[Change], list[Note]]:
    """Open culverts, pipes and swales as channels one cell wide that fall all the way.

    The ends are moved to the lowest ground within `drain_snap_m`, where a pipe meets the bed it drains. Its grade is
    straight between the inverts, or between the ground at the ends where none is given. A swale is cut its depth
    below the ground all along. A drain is opened from its higher to its lower end. A channel under an embankment
    takes in the water of the ground above it as well: for a pipe that is a simplification, which a note states.

    Parameters
    ----------
    block
        `drains` with their inverts.
    elev_m
        Ground with barriers, float32 [m].
    criteria
        `drain_snap_m`.

    Returns
    -------
    Ground with channels [m]; what was cut; notes.
    """
    opened, changes, notes = elev_m.copy(), [], []
    for drain in block.drains.itertuples():
        name = f"{drain.kind} {drain.drain_id}"
        line = cells_along(block.grid, drain.geometry, closed=False)
        cells = _snap_ends(elev_m, line, reach=int(criteria.drain_snap_m / block.grid.cell_m))
        if cells.shape[0] < 2 or np.isnan(elev_m[tuple(cells[[0, -1]].T)]).any():
            notes.append(Note("missing", "drains", f"{name} has an end without elevation in the window: not opened"))
            continue
        at, bed, bed_notes = _bed(drain, name, elev_m, cells)
        before = opened.copy()
        opened[at] = np.fmin(opened[at], bed)
        change = _change(drain.kind, drain.drain_id, before, opened, at)
        changes += [change] if change else []
        deepest = float(np.nanmax(elev_m[at] - bed))
        text = f"{name} acts as an open channel, cut up to {max(deepest, 0):.2f} m deep"
        notes += [*bed_notes, Note("assumed", "drains", text)]
    return opened, changes, notes


def breach(block: Block, walled: F32, *, criteria: Criteria) -> tuple[F32, list[Change], list[Note]]:
    """Cut channels where the criteria ask for it, and say where: a cut hides a low spot that may be real.

    Returns
    -------
    Ground with channels [m]; each connected channel as one change; a note.
    """
    from scipy import ndimage

    from screening._whitebox import breach_least_cost

    if criteria.breach_length_max_m == 0:
        return walled, [], []
    grid = block.grid
    cut = breach_least_cost(
        walled, cell_m=grid.cell_m, length_max_m=criteria.breach_length_max_m, cost_max_m=criteria.breach_cost_max_m
    )
    label, n_cuts = ndimage.label(np.nan_to_num(walled - cut) > 0, structure=np.ones((3, 3), int))
    windows = ndimage.find_objects(label)
    changes = []
    for number, window in enumerate(windows, start=1):
        row, col = np.nonzero(label[window] == number)
        at = row + window[0].start, col + window[1].start
        change = _change("breach", "", walled, cut, at)
        changes += [change] if change else []
    text = f"{n_cuts} channels were cut by least-cost breaching (surface changes): low spots they drain are not seen"
    return cut, changes, [Note("assumed", "breaching", text)] if n_cuts else []


def _change(kind: str, source_id: str, before: F32, after: F32, at: tuple[Any, ...]) -> Change | None:
    cells = np.unique(np.ravel_multi_index(at, before.shape))
    raised = after.ravel()[cells] - before.ravel()[cells]
    changed = np.nan_to_num(raised) != 0
    return Change(kind, source_id, cells[changed], raised[changed]) if changed.any() else None


def _bed(drain: Any, name: str, ground_m: F32, cells: I64) -> tuple[tuple[Any, ...], F32, list[Note]]:
    """Level of the channel's bed along its cells, from its higher to its lower end."""
    ground = ground_m[tuple(cells.T)]
    given_up, given_down = float(drain.invert_up_m), float(drain.invert_down_m)
    up = given_up if given_up == given_up else float(ground[0])
    down = given_down if given_down == given_down else float(ground[-1])
    notes: list[Note] = []
    bed: Any
    for end, invert, level in (("upper", given_up, float(ground[0])), ("lower", given_down, float(ground[-1]))):
        if invert > level:
            text = f"{name}: its {end} invert lies {invert - level:.2f} m above the ground there: check both"
            notes.append(Note("caution", "drains", text))
    if down > up:
        cells, up, down = cells[::-1], down, up
        ground = ground[::-1]
        notes.append(Note("caution", "drains", f"{name} rises along its line: taken the other way round"))
    if drain.kind == "swale" and drain.depth_m > 0:
        bed = np.minimum.accumulate(np.where(np.isnan(ground), np.inf, ground)) - np.float32(drain.depth_m)
    else:
        bed = np.linspace(up, down, cells.shape[0])
    return tuple(cells.T), bed.astype(np.float32), notes


def _snap_ends(ground_m: F32, cells: I64, *, reach: int) -> I64:
    """Prolong a line's cells to the lowest ground near each end, if that is lower than the end itself."""
    if cells.shape[0] == 0:
        return cells
    head = _way_to_lowest(ground_m, cells[0], reach)[::-1]
    tail = _way_to_lowest(ground_m, cells[-1], reach)
    return np.concatenate((head, cells, tail))


def _way_to_lowest(ground_m: F32, end: I64, reach: int) -> I64:
    """Cells from beside an end to the lowest cell within reach, in a straight line; none if the end is lowest."""
    top, left = max(int(end[0]) - reach, 0), max(int(end[1]) - reach, 0)
    near = ground_m[top : int(end[0]) + reach + 1, left : int(end[1]) + reach + 1]
    if np.isnan(near).all():
        return np.empty((0, 2), np.int64)
    lowest = np.array(np.unravel_index(np.nanargmin(near), near.shape)) + np.array([top, left])
    if not ground_m[tuple(lowest)] < ground_m[tuple(end)]:
        return np.empty((0, 2), np.int64)
    n_steps = int(np.abs(lowest - end).max())
    steps = np.arange(1, n_steps + 1)[:, np.newaxis] / n_steps
    way: I64 = np.rint(end + steps * (lowest - end)).astype(np.int64)
    return way
