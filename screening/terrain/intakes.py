"""What takes water along a line, or off a roof: trench drains as many inlets with one outlet."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from screening.grid import Grid, cells_along
from screening.models import F32, I32, I64, Block, Conduits, Intake, Note, note
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject, OutletProblem


def lay_intakes(
    block: Block, ground_m: F32, walled_m: F32, structure_index: I32, pipes: Conduits
) -> tuple[Conduits, list[Note]]:
    """Lay the intakes of a block beside its pipes.

    Each cell that a line crosses takes all water that comes to it, and is an inlet of a pipe of its own to the one
    outlet. A cell that is no higher than the outlet takes nothing: its water could not run there. An intake without
    an outlet takes its water off the ground, as the edge of the window does.

    Parameters
    ----------
    block
        `intakes`.
    ground_m, walled_m
        Ground with barriers and swales, before and after structures are raised, float32 [m].
    structure_index
        Row of `block.structures` + 1 where a structure stands, else 0, int32.
    pipes
        Culverts and pipes.

    Returns
    -------
    The pipes with the intakes; what could not be laid.
    """
    notes: list[Note] = []
    names, sinks, inlets, outlets = list(pipes.name), [pipes.sink_cell], [pipes.inlet], [pipes.outlet]
    for intake in block.intakes:
        cells = intake_cells(intake, block, structure_index)
        cells = cells[~np.isnan(walled_m.ravel()[cells])]
        if intake.outlet is None:
            sinks.append(cells)
        else:
            outlet = _outlet_cell(intake, block.grid, ground_m, structure_index, notes)
            cells = _higher_than_outlet(intake, cells, outlet, ground_m, notes) if outlet >= 0 else cells[:0]
            names += [intake.name] * cells.size
            inlets.append(cells)
            outlets.append(np.full(cells.size, outlet, np.int64))
        if not cells.size:
            notes.append(note(NoteKind.MISSING, NoteSubject.IMPROVEMENTS, NoteCode.INTAKE_DRY, name=intake.name))
    inlet, outlet_cells = np.concatenate(inlets), np.concatenate(outlets)
    n_pipes = pipes.inlet.size
    crest = np.concatenate((pipes.crest_m, walled_m.ravel()[inlet[n_pipes:]])).astype(np.float32)
    return dataclasses.replace(
        pipes, name=tuple(names), inlet=inlet, outlet=outlet_cells, crest_m=crest, sink_cell=np.concatenate(sinks)
    ), notes


def intake_cells(intake: Intake, block: Block, structure_index: I32) -> I64:
    """Flat indices of the cells that an intake takes water from: open ground along its line, or its roof."""
    if intake.line is None:
        ids = block.structures["structure_id"].tolist()
        number = ids.index(intake.structure_id) + 1 if intake.structure_id in ids else -1
        return np.flatnonzero(structure_index.ravel() == number).astype(np.int64)
    row, col = cells_along(block.grid, intake.line, closed=True).T
    cells = np.unique(row * block.grid.n_cols + col)
    open_ground: I64 = cells[structure_index.ravel()[cells] == 0].astype(np.int64)
    return open_ground


def _outlet_cell(intake: Intake, grid: Grid, ground_m: F32, structure_index: I32, notes: list[Note]) -> int:
    """Flat index of the cell where the water comes out, -1 where it cannot."""
    outlet: Any = intake.outlet
    x, y = float(outlet.x), float(outlet.y)
    row, col = int(np.floor((grid.north_m - y) / grid.cell_m)), int(np.floor((x - grid.west_m) / grid.cell_m))
    problem: OutletProblem | None = None
    if not (0 <= row < grid.n_rows and 0 <= col < grid.n_cols):
        problem = OutletProblem.OUTSIDE
    elif structure_index[row, col] > 0:
        problem = OutletProblem.IN_STRUCTURE
    elif np.isnan(ground_m[row, col]):
        problem = OutletProblem.NO_ELEVATION
    if problem is not None:
        notes.append(
            note(
                NoteKind.MISSING,
                NoteSubject.IMPROVEMENTS,
                NoteCode.INTAKE_NOT_LAID,
                name=intake.name,
                problem=problem,
            )
        )
        return -1
    return row * grid.n_cols + col


def _higher_than_outlet(intake: Intake, cells: I64, outlet: int, ground_m: F32, notes: list[Note]) -> I64:
    ground = ground_m.ravel()
    is_higher = ground[cells] > ground[outlet]
    n_low = int((~is_higher).sum())
    if n_low:
        notes.append(
            note(
                NoteKind.CAUTION,
                NoteSubject.IMPROVEMENTS,
                NoteCode.INTAKE_CELLS_LOW,
                name=intake.name,
                n_low=n_low,
                n_cells=cells.size,
                outlet_m=ground[outlet],
            )
        )
    higher: I64 = cells[is_higher]
    return higher
