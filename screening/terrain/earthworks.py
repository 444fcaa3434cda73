"""What is built on the ground and acts on water although it is narrower than a cell: barriers and cuts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypedDict

import numpy as np

from screening.grid import Grid, cells_along, polygonize_cells, rasterize
from screening.models import F32, I64, Block, Note, note
from screening.schema.codes.inputs import BarrierKind
from screening.schema.codes.notes import BarrierProblem, NoteCode, NoteKind, NoteSubject
from screening.schema.criteria import Criteria


class ChangeRow(TypedDict):
    """One row of `columns.SURFACE_CHANGE_COLUMNS`, and its outline."""

    change_id: str
    kind: str
    source_id: str
    raised_max_m: float
    cut_max_m: float
    area_m2: float
    volume_m3: float
    geometry: Any


@dataclass(frozen=True, kw_only=True, eq=False)
class Change:
    """Cells whose routed level was changed, and by how much: one row of `columns.SURFACE_CHANGE_COLUMNS`."""

    kind: str
    source_id: str
    cells: I64
    raised_m: F32

    def as_row(self, grid: Grid, number: int) -> ChangeRow:
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


def raise_barriers(block: Block, elev_m: F32, *, criteria: Criteria) -> tuple[F32, list[Change], list[Note]]:
    """Raise curbs, walls and berms by their height above the ground, so that no flow leaks through at a corner.

    A curb is dropped where a driveway crosses it.

    Parameters
    ----------
    block
        `barriers` with their heights; `driveways`.
    elev_m
        Ground, float32 [m].
    criteria
        `curb_height_m`, of curbs without a height. Other barriers without a height are left out.

    Returns
    -------
    Raised ground [m]; what was raised; notes. Where barriers cross the higher one counts.
    """
    raised, changes, notes, n_assumed = elev_m.copy(), [], [], 0
    for barrier in block.barriers.itertuples():
        is_curb, height_m = barrier.kind == BarrierKind.CURB, float(barrier.height_m)
        if is_curb and np.isnan(height_m):
            height_m, n_assumed = criteria.terrain.curb_height_m, n_assumed + 1
        at = cells_along(block.grid, barrier.geometry, closed=True)
        if at.shape[0] == 0 or np.isnan(height_m):
            notes.append(
                note(
                    NoteKind.MISSING,
                    NoteSubject.BARRIERS,
                    NoteCode.BARRIER_NOT_RAISED,
                    barrier_id=barrier.barrier_id,
                    problem=BarrierProblem.NO_HEIGHT if np.isnan(height_m) else BarrierProblem.OUTSIDE,
                )
            )
            continue
        if is_curb:
            at = _drop_at_driveways(block, at, barrier.barrier_id, notes)
        stands = tuple(at.T)
        raised[stands] = np.fmax(raised[stands], elev_m[stands] + np.float32(height_m))
        change = measure_change(barrier.kind, barrier.barrier_id, elev_m, raised, stands)
        changes += [change] if change else []
    if n_assumed:
        notes.append(
            note(
                NoteKind.ASSUMED,
                NoteSubject.BARRIERS,
                NoteCode.CURB_HEIGHTS_ASSUMED,
                n_curbs=n_assumed,
                height_m=criteria.terrain.curb_height_m,
            )
        )
    return raised, changes, notes


def _drop_at_driveways(block: Block, cells: I64, barrier_id: str, notes: list[Note]) -> I64:
    """Leave out the cells of a curb that a driveway touches: it may be drawn as far as the curb and no farther."""
    driveways = list(block.driveways.geometry)
    touched = rasterize(block.grid, driveways, [1] * len(driveways), all_touched=True)[tuple(cells.T)] > 0
    if touched.any():
        n_dropped = len(np.unique(cells[touched], axis=0))
        notes.append(
            note(
                NoteKind.ASSUMED,
                NoteSubject.BARRIERS,
                NoteCode.CURB_DROPPED,
                barrier_id=barrier_id,
                n_cells=n_dropped,
            )
        )
    stands: I64 = cells[~touched]
    return stands


def breach(block: Block, walled: F32, *, inlets: I64, criteria: Criteria) -> tuple[F32, list[Change], list[Note]]:
    """Cut channels where the criteria ask for it, and say where: a cut hides a low spot that may be real.

    Parameters
    ----------
    block
        The window.
    walled
        Ground with walls, float32 [m].
    inlets
        Flat indices of cells where pipes take water: what drains to them needs no channel.
    criteria
        `breach_length_max_m`, `breach_cost_max_m`.

    Returns
    -------
    Ground with channels [m]; each connected channel as one change; a note.
    """
    from scipy import ndimage

    from screening.terrain._whitebox import breach_least_cost

    if criteria.terrain.breach_length_max_m == 0:
        return walled, [], []
    grid = block.grid
    given = walled.copy()
    given.ravel()[inlets] = np.nan  # water may leave where there is no data: an inlet stands for such a place
    cut = breach_least_cost(
        given,
        cell_m=grid.cell_m,
        length_max_m=criteria.terrain.breach_length_max_m,
        cost_max_m=criteria.terrain.breach_cost_max_m,
    )
    cut.ravel()[inlets] = walled.ravel()[inlets]
    label, n_cuts = ndimage.label(np.nan_to_num(walled - cut) > 0, structure=np.ones((3, 3), int))
    windows = ndimage.find_objects(label)
    changes = []
    for number, window in enumerate(windows, start=1):
        row, col = np.nonzero(label[window] == number)
        at = row + window[0].start, col + window[1].start
        change = measure_change("breach", "", walled, cut, at)
        changes += [change] if change else []
    said = note(NoteKind.ASSUMED, NoteSubject.BREACHING, NoteCode.BREACHED, n_channels=n_cuts)
    return cut, changes, [said] if n_cuts else []


def measure_change(kind: str, source_id: str, before: F32, after: F32, at: tuple[Any, ...]) -> Change | None:
    """Compare two grounds at given rows and columns; None where nothing differs there."""
    cells = np.unique(np.ravel_multi_index(at, before.shape))
    raised = after.ravel()[cells] - before.ravel()[cells]
    changed = np.nan_to_num(raised) != 0
    return (
        Change(kind=kind, source_id=source_id, cells=cells[changed], raised_m=raised[changed])
        if changed.any()
        else None
    )
