"""Where drains begin and end on the grid, and what their ends say against their inverts."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import NamedTuple

import numpy as np

from screening.models import (
    EAST_SIDE,
    F32,
    F64,
    GAP_SIDE,
    I32,
    I64,
    NORTH_SIDE,
    SOUTH_SIDE,
    WEST_SIDE,
    Block,
    Bool,
    Note,
    note,
)
from screening.schema.codes.notes import DrainEnd, NoteCode, NoteKind, NoteSubject, PipeEndProblem

caution = partial(note, NoteKind.CAUTION, NoteSubject.DRAINS)
assumed = partial(note, NoteKind.ASSUMED, NoteSubject.DRAINS)
missing = partial(note, NoteKind.MISSING, NoteSubject.DRAINS)


class DrainTerrain(NamedTuple):
    """What drains are laid in: the ground, and what they have changed of it so far."""

    block: Block
    ground_m: F32
    opened_m: F32
    structure_index: I32
    snap_m: float


class PipeEnd(NamedTuple):
    """An end of a pipe: its cell, or why it has none."""

    cell: int
    sides: int = 0
    """Bits of the sides of the window it lies beyond, or of a gap."""
    problem: PipeEndProblem = PipeEndProblem.NONE
    structures: str = ""
    """Those it lies in, where that is its problem."""


def cells_of(site: DrainTerrain, xy: F64) -> I64:
    """Rows and columns of places, in the window or not."""
    grid = site.block.grid
    place = np.column_stack((grid.north_m - xy[:, 1], xy[:, 0] - grid.west_m)) / grid.cell_m
    cells: I64 = np.floor(place).astype(np.int64)
    return cells


def find_end(site: DrainTerrain, place: I64, other: I64) -> PipeEnd:
    """Find the cell of an end of a pipe."""
    n_rows, n_cols = site.block.grid.shape
    sides = (
        (NORTH_SIDE if place[0] < 0 else 0)
        | (SOUTH_SIDE if place[0] >= n_rows else 0)
        | (WEST_SIDE if place[1] < 0 else 0)
        | (EAST_SIDE if place[1] >= n_cols else 0)
    )
    if sides:
        return PipeEnd(-1, sides, PipeEndProblem.BEYOND)
    lowest = lowest_near(site, place, other)
    if lowest is not None:
        return PipeEnd(int(lowest[0] * n_cols + lowest[1]))
    structure = site.structure_index[place[0], place[1]]
    if structure > 0:
        return PipeEnd(-1, 0, PipeEndProblem.IN_STRUCTURE, name_structures(site, np.array([structure])))
    return PipeEnd(-1, GAP_SIDE, PipeEndProblem.NO_ELEVATION)


def lowest_near(site: DrainTerrain, place: I64, other: I64) -> I64 | None:
    """Lowest open cell within reach of an end and nearer to it than to the other end, or the end's own cell."""
    reach = site.snap_m / site.block.grid.cell_m * (1 + 1e-9)
    top, left = (int(max(at - int(reach), 0)) for at in place)
    window = slice(top, int(place[0]) + int(reach) + 1), slice(left, int(place[1]) + int(reach) + 1)
    level, structure = site.opened_m[window], site.structure_index[window]
    row, col = np.mgrid[top : top + level.shape[0], left : left + level.shape[1]]
    away = (row - place[0]) ** 2 + (col - place[1]) ** 2
    away_other = (row - other[0]) ** 2 + (col - other[1]) ** 2
    fits: Bool = (away <= reach**2) & ((away < away_other) | (away == 0)) & (structure == 0) & ~np.isnan(level)
    if not fits.any():
        return None
    best = np.lexsort((away[fits], level[fits]))[0]
    return np.array((row[fits][best], col[fits][best]))


def turned(name: str) -> Note:
    """Note that a drain is taken the other way round than it is drawn."""
    return caution(NoteCode.DRAIN_TURNED, name=name)


def note_high_inverts(name: str, inverts: Sequence[float], ground_m: Sequence[float], notes: list[Note]) -> None:
    """Note the ends whose invert lies above the ground, by the invert and the ground at each [m]."""
    for end, invert, level in zip((DrainEnd.UPPER, DrainEnd.LOWER), inverts, ground_m, strict=True):
        if round(invert - level, 2) > 0:
            notes.append(caution(NoteCode.INVERT_HIGH, name=name, end=end, above_m=invert - level))


def name_structures(site: DrainTerrain, structure_index: I32 | I64) -> str:
    """Ids of the structures at some cells, each once."""
    rows = np.unique(structure_index[structure_index > 0]) - 1
    return ", ".join(site.block.structures["structure_id"].iloc[rows].astype(str))
