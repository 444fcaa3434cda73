"""Swales and ditches as cuts along their line."""

from __future__ import annotations

from typing import Any

import numpy as np

from screening.grid import cells_along
from screening.models import F32, F64, I64, Note
from screening.schema.codes.notes import NoteCode
from screening.terrain.drain_ends import (
    DrainTerrain,
    assumed,
    caution,
    cells_of,
    lowest_near,
    missing,
    name_structures,
    note_high_inverts,
    turned,
)
from screening.terrain.earthworks import Change, measure_change


def cut_swale(site: DrainTerrain, drain: Any, notes: list[Note]) -> Change | None:
    """Cut a swale in place along its line, but not where a structure stands."""
    name = f"{drain.kind} {drain.drain_id}"
    line = cells_along(site.block.grid, drain.geometry, closed=False)
    is_within = line.shape[0] > 0 and np.array_equal(line[[0, -1]], _ends_of(site, drain.geometry))
    cells = _snap_ends(site, line) if is_within else line
    if cells.shape[0] < 2 or np.isnan(site.ground_m[tuple(cells[[0, -1]].T)]).any():
        notes.append(missing(NoteCode.SWALE_END_UNKNOWN, name=name))
        return None
    if not is_within and not drain.depth_m > 0 and np.isnan([drain.invert_up_m, drain.invert_down_m]).any():
        notes.append(missing(NoteCode.SWALE_RUNS_OUT, name=name))
        return None
    share = np.linspace(0.0, 1.0, cells.shape[0]) if is_within else _share_along(site, drain.geometry, cells)
    at, bed = _bed(site, drain, name, cells, share, notes)
    structure = site.structure_index[at]
    if (structure > 0).any():
        notes.append(caution(NoteCode.SWALE_AT_STRUCTURES, name=name, structures=name_structures(site, structure)))
    before, is_free = site.opened_m.copy(), structure == 0
    at, bed = (at[0][is_free], at[1][is_free]), bed[is_free]
    site.opened_m[at] = np.fmin(site.opened_m[at], bed)
    deepest = float(np.nanmax(site.ground_m[at] - bed, initial=0.0))
    notes.append(assumed(NoteCode.SWALE_CUT, name=name, deepest_m=deepest))
    return measure_change(drain.kind, drain.drain_id, before, site.opened_m, at)


def _bed(
    site: DrainTerrain, drain: Any, name: str, cells: I64, share: F64, notes: list[Note]
) -> tuple[tuple[I64, I64], F32]:
    """Level of a swale's bed along its cells, from its higher to its lower end."""
    ground_m = site.ground_m[tuple(cells.T)]
    given = float(drain.invert_up_m), float(drain.invert_down_m)
    ends = float(ground_m[0]), float(ground_m[-1])
    up, down = (level if invert != invert else invert for invert, level in zip(given, ends, strict=True))
    note_high_inverts(name, given, ends, notes)
    if down > up:
        cells, ground_m, share = cells[::-1], ground_m[::-1], share[::-1]
        notes.append(turned(name))
    bed: Any = up + (down - up) * share
    if drain.depth_m > 0:
        bed = np.minimum.accumulate(np.where(np.isnan(ground_m), np.inf, ground_m)) - np.float32(drain.depth_m)
    return (cells[:, 0], cells[:, 1]), bed.astype(np.float32)


def _share_along(site: DrainTerrain, line: Any, cells: I64) -> F64:
    """Share of the way from the first end of a line to its last at which each of its cells lies."""
    import shapely

    grid = site.block.grid
    x, y = grid.west_m + (cells[:, 1] + 0.5) * grid.cell_m, grid.north_m - (cells[:, 0] + 0.5) * grid.cell_m
    share: F64 = shapely.line_locate_point(line, shapely.points(x, y), normalized=True)
    return share


def _ends_of(site: DrainTerrain, line: Any) -> I64:
    import shapely

    return cells_of(site, shapely.get_coordinates(line)[[0, -1]])


def _snap_ends(site: DrainTerrain, cells: I64) -> I64:
    """Prolong a line's cells to the lowest ground near each end, if that is lower than the end itself."""
    head = _way_to_lowest(site, cells[0], cells[-1])[::-1]
    tail = _way_to_lowest(site, cells[-1], cells[0])
    return np.concatenate((head, cells, tail))


def _way_to_lowest(site: DrainTerrain, end: I64, other: I64) -> I64:
    """Cells from beside an end to the lowest cell within reach, in a straight line; none if the end is lowest."""
    lowest = lowest_near(site, end, other)
    if lowest is None or not site.opened_m[tuple(lowest)] < site.opened_m[tuple(end)]:
        return np.empty((0, 2), np.int64)
    n_steps = int(np.abs(lowest - end).max())
    steps = np.arange(1, n_steps + 1)[:, np.newaxis] / n_steps
    way: I64 = np.rint(end + steps * (lowest - end)).astype(np.int64)
    return way
