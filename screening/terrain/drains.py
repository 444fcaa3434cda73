"""Culverts and pipes as ways under the ground, swales and ditches as cuts along their line."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, NamedTuple

import numpy as np

from screening.grid import cells_along
from screening.models import (
    F32,
    GAP_SIDE,
    I32,
    Block,
    Conduits,
    Note,
)
from screening.schema.codes.notes import NoteCode, PipeEndProblem
from screening.schema.criteria import Criteria
from screening.terrain.drain_ends import (
    DrainTerrain,
    PipeEnd,
    assumed,
    caution,
    cells_of,
    find_end,
    missing,
    name_structures,
    note_high_inverts,
    turned,
)
from screening.terrain.earthworks import Change
from screening.terrain.swales import cut_swale

_OPEN = re.compile(r"\b(swales?|ditch(es)?|(open )?channels?|gutters?)\b")
"""Words for what lies open along its line; every other drain is taken as a pipe."""


class _Pipe(NamedTuple):
    """A pipe as laid on the grid."""

    name: str
    inlet: int
    outlet: int
    crest_m: float


def open_drains(
    block: Block, ground_m: F32, structure_index: I32, *, criteria: Criteria
) -> tuple[F32, Conduits, list[Change], list[Note]]:
    """Cut swales and ditches along their line, and lay culverts and pipes from inlet to outlet under the ground.

    The ends of both are moved to the lowest open ground within `drain_snap_m`, on their own side of the middle, where
    a drain meets the bed it drains. A swale is cut its depth below the ground all along, else straight between its
    inverts or the ground at its ends. A pipe leaves the ground as it is: water enters at its upper end once it stands
    as high as the invert, or as the ground there where none is given or the ground is higher, and comes out at its
    lower end. It is open and never full.

    Parameters
    ----------
    block
        `drains` with their kinds and inverts.
    ground_m
        Ground with barriers, float32 [m]; it stays as it is.
    structure_index
        Row of `block.structures` + 1 where a structure stands, else 0, int32.
    criteria
        `drain_snap_m`.

    Returns
    -------
    Ground with cuts [m]; the pipes; what was cut; notes.
    """
    site = DrainTerrain(block, ground_m, ground_m.copy(), structure_index, criteria.terrain.drain_snap_m)
    is_open = block.drains["kind"].map(lambda kind: bool(_OPEN.search(kind))).astype(bool)
    changes: list[Change] = []
    notes: list[Note] = []
    for swale in block.drains[is_open].itertuples():
        change = cut_swale(site, swale, notes)
        changes += [change] if change else []
    # Swales come first, so that a pipe takes the water of the one that leads to it.
    conduits = _lay_pipes(site, block.drains[~is_open].itertuples(), notes)
    return site.opened_m, conduits, changes, notes


def _lay_pipes(site: DrainTerrain, drains: Iterable[Any], notes: list[Note]) -> Conduits:
    fed: list[PipeEnd] = []
    found = [_lay_pipe(site, drain, fed, notes) for drain in drains]
    pipes = [pipe for pipe in found if pipe is not None]
    _note_shared_inlets(pipes, notes)
    return Conduits(
        name=tuple(pipe.name for pipe in pipes),
        inlet=np.array([pipe.inlet for pipe in pipes], np.int64),
        outlet=np.array([pipe.outlet for pipe in pipes], np.int64),
        crest_m=np.array([pipe.crest_m for pipe in pipes], np.float32),
        fed_cell=np.array([end.cell for end in fed], np.int64),
        fed_sides=np.array([end.sides for end in fed], np.uint8),
    )


def _lay_pipe(site: DrainTerrain, drain: Any, fed: list[PipeEnd], notes: list[Note]) -> _Pipe | None:
    """Find the ends of a pipe; None where it cannot be opened: then what comes out of it unseen is kept in `fed`."""
    import shapely

    name = f"{drain.kind} {drain.drain_id}"
    xy = shapely.get_coordinates(drain.geometry)[[0, -1]]
    inverts = [float(drain.invert_up_m), float(drain.invert_down_m)]
    if inverts[1] > inverts[0]:
        xy, inverts = xy[::-1], inverts[::-1]
        notes.append(turned(name))
    grid, places = site.block.grid, cells_of(site, xy)
    upper, lower = find_end(site, places[0], places[1]), find_end(site, places[1], places[0])
    if upper.sides & ~GAP_SIDE and lower.sides & ~GAP_SIDE:
        return None  # it only crosses beneath the window, if at all
    problem = _pipe_problem(site, name, upper, lower)
    if problem is not None:
        notes.append(problem)
        fed += [PipeEnd(lower.cell, upper.sides)] if upper.sides and lower.cell >= 0 else []
        return None
    under = site.structure_index[tuple(cells_along(grid, drain.geometry, closed=False).T)]
    if (under > 0).any():
        notes.append(caution(NoteCode.PIPE_UNDER_STRUCTURES, name=name, structures=name_structures(site, under)))
    return _settle(site, name, [upper.cell, lower.cell], inverts, notes)


def _pipe_problem(site: DrainTerrain, name: str, upper: PipeEnd, lower: PipeEnd) -> Note | None:
    """Say why a pipe cannot be opened between its ends; None where it can."""
    if PipeEndProblem.NONE is upper.problem is lower.problem:
        return missing(NoteCode.PIPE_IN_ONE_CELL, name=name) if upper.cell == lower.cell else None
    return missing(
        NoteCode.PIPE_NOT_OPENED,
        name=name,
        upper=upper.problem,
        upper_structures=upper.structures,
        lower=lower.problem,
        lower_structures=lower.structures,
        snap_m=site.snap_m,
    )


def _settle(site: DrainTerrain, name: str, ends: list[int], inverts: list[float], notes: list[Note]) -> _Pipe:
    """Find the level that water must reach to go through a pipe, and say what is odd about it."""
    ground_m = [float(site.opened_m.ravel()[cell]) for cell in ends]
    if np.isnan(inverts).all() and ground_m[1] > ground_m[0]:
        ends, ground_m = ends[::-1], ground_m[::-1]
        notes.append(turned(name))
    note_high_inverts(name, inverts, ground_m, notes)
    up_m, down_m = float(np.fmax(inverts[0], ground_m[0])), float(np.fmax(inverts[1], ground_m[1]))
    if round(down_m - up_m, 2) > 0:
        notes.append(caution(NoteCode.PIPE_END_HIGH, name=name, down_m=down_m, up_m=up_m))
    crest_m = max(up_m, down_m)
    notes.append(assumed(NoteCode.PIPE_TAKEN_OPEN, name=name, crest_m=crest_m, down_m=down_m))
    return _Pipe(name, ends[0], ends[1], crest_m)


def _note_shared_inlets(pipes: list[_Pipe], notes: list[Note]) -> None:
    by_cell: dict[int, list[str]] = {}
    for pipe in pipes:
        by_cell.setdefault(pipe.inlet, []).append(pipe.name)
    for names in by_cell.values():
        if len(names) > 1:
            notes.append(caution(NoteCode.PIPES_SHARE_INLET, names=", ".join(names)))
