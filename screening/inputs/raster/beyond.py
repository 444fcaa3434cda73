"""The coarser elevation around a window: opened in the window's CRS, read as far as is asked and can be held."""

from __future__ import annotations

import dataclasses
import math

from screening.errors import InputError
from screening.grid import Bounds, Grid
from screening.inputs.raster.elevation import ElevationSource, open_elevation
from screening.inputs.raster.metre_crs import crs_name
from screening.inputs.raster.windows import read_elevation
from screening.models import Block, ContextElevation, Note, SiteRequest, merge_notes, note
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from screening.schema.criteria import Criteria

CONTEXT_CELLS_MAX = 10_000_000
"""Most cells of coarser elevation that are routed: about 50 bytes a cell at the peak, so 0.5 GB."""
_SUBJECT = NoteSubject.CONTEXT_ELEVATION


def open_context_elevation(request: SiteRequest, *, crs: str | None) -> ElevationSource | None:
    """Open the coarser raster of a request, brought to the CRS of the fine one.

    Parameters
    ----------
    request
        `context_elevation`, `context_vertical_unit`.
    crs
        Of the fine grid; None = the raster's own choice.

    Returns
    -------
    None where the request names none.

    Raises
    ------
    InputError
        The raster cannot be used.
    """
    if request.context_elevation is None:
        return None
    source = open_elevation(
        request.context_elevation,
        vertical_unit=request.context_vertical_unit,
        onto=crs,
        subject=_SUBJECT,
        unit_option="--context-vertical-unit",
    )
    return dataclasses.replace(source, notes=_renamed(source.notes))


def check_context(source: ElevationSource, fine: Grid) -> tuple[Note, ...]:
    """Compare a coarser raster with the grid of the fine one.

    Returns
    -------
    A note where it is not coarser.

    Raises
    ------
    InputError
        The two do not meet.
    """
    west, south, east, north = source.grid.bounds
    fine_west, fine_south, fine_east, fine_north = fine.bounds
    if min(east, fine_east) <= max(west, fine_west) or min(north, fine_north) <= max(south, fine_south):
        raise InputError(
            f"The {_SUBJECT} {source.path.name} does not meet the elevation raster",
            got=_extent(source.grid.bounds),
            expected=f"ground around {_extent(fine.bounds)} in {crs_name(fine.crs)}",
            mend="give a raster that covers the elevation raster and the ground around it",
        )
    if source.grid.cell_m > fine.cell_m:
        return ()
    return (
        note(
            NoteKind.CAUTION,
            _SUBJECT,
            NoteCode.CONTEXT_NOT_COARSER,
            name=source.path.name,
            cell_m=source.grid.cell_m,
            fine_cell_m=fine.cell_m,
        ),
    )


def add_context_elevation(block: Block, source: ElevationSource, *, criteria: Criteria) -> Block:
    """Read the coarser ground around a block's window.

    Parameters
    ----------
    block
        Its grid is the window.
    source
        From `open_context_elevation`, in the block's CRS.
    criteria
        `context_limit_m`.

    Returns
    -------
    The block with its `context_elevation`, and notes on how far it reaches where that is less than was asked.
    """
    reach_m = _reach_m(block.grid, source.grid.cell_m, criteria.flow.context_limit_m)
    west, south, east, north = block.grid.bounds
    around = (west - reach_m, south - reach_m, east + reach_m, north + reach_m)
    grid, elev_m, _, notes = read_elevation(source, around)
    notes = (*check_context(source, block.grid), *source.notes, *_renamed(notes))
    if reach_m < criteria.flow.context_limit_m:
        cut = note(NoteKind.CAUTION, _SUBJECT, NoteCode.CONTEXT_REACH_CUT, reach_m=reach_m, cells_max=CONTEXT_CELLS_MAX)
        notes = (*notes, cut)
    context = ContextElevation(grid, elev_m, source.path.name)
    return dataclasses.replace(block, context_elevation=context, notes=merge_notes(block.notes, notes))


def _reach_m(window: Grid, cell_m: float, limit_m: float) -> float:
    """As far as was asked, or as far as the number of cells allows."""
    height, width = window.n_rows * window.cell_m, window.n_cols * window.cell_m
    # (height + 2 r) (width + 2 r) = the largest area; a cell on each side is for snapping.
    half = (height + width) / 4.0
    most = CONTEXT_CELLS_MAX * cell_m**2
    largest = math.sqrt(max(half**2 + (most - height * width) / 4.0, 0.0)) - half - 2.0 * cell_m
    return max(min(limit_m, largest), 0.0)


def _renamed(notes: tuple[Note, ...]) -> tuple[Note, ...]:
    return tuple(dataclasses.replace(each, subject=_SUBJECT) for each in notes)


def _extent(bounds: Bounds) -> str:
    return "west {:,.0f}, south {:,.0f}, east {:,.0f}, north {:,.0f} m".format(*bounds)
