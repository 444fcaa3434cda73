"""What an elevation raster is and what is wrong with it."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from screening.errors import ScreeningError
from screening.grid import Grid
from screening.inputs.inspected import Draft
from screening.inputs.raster.beyond import check_context, open_context_elevation
from screening.inputs.raster.cells import MAX_CELLS, open_raster, read_cells
from screening.inputs.raster.elevation import ElevationSource
from screening.inputs.raster.heights import check_heights
from screening.inputs.raster.metre_crs import crs_name
from screening.models import F32, Note, SiteRequest, merge_notes, note
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject

_LOOK_CELLS = 1000
_LOOK_WINDOWS = 5
_LOOK_WINDOW = 200


def raster_facts(draft: Draft, source: ElevationSource | None) -> None:
    """State what a raster is, and of one that can be used what it holds."""
    with open_raster(Path(draft.path)) as raster:
        draft.facts |= {
            "format": str(raster.driver),
            "size": f"{raster.height:,} rows x {raster.width:,} columns",
            "pixels": f"{raster.dtypes[0]}, {raster.count} band(s)",
            "no data tag": "none" if raster.nodata is None else f"{raster.nodata:g}",
            "unit tag of the band": raster.units[0] or "none",
        }
    if source is None:
        return
    grid = source.grid
    width_m, height_m = grid.n_cols * grid.cell_m, grid.n_rows * grid.cell_m
    draft.facts |= {
        "CRS": crs_name(source.source_crs),
        "screened in": crs_name(grid.crs),
        "cell size": f"{grid.cell_m:.3f} m, " + ("resampled" if source.is_resampled else "cells as in the file"),
        "covers": f"{width_m:,.0f} m x {height_m:,.0f} m",
        "vertical unit": source.vertical_unit,
    }
    elev_m, sampled, notes = _look(source)
    is_known = np.isfinite(elev_m)
    draft.facts["no data"] = f"{100.0 * (1.0 - is_known.mean()):.2f} %{sampled}"
    if is_known.any():
        draft.facts["elevation"] = f"{np.nanmin(elev_m):,.2f} to {np.nanmax(elev_m):,.2f} m{sampled}"
    elif sampled:
        draft.add([note(NoteKind.CAUTION, draft.subject, NoteCode.NOTHING_LOOKED_AT, sampled=sampled)])
    else:
        draft.errors.append("The raster holds no elevation. To mend it: give a raster with data.")
    draft.add((*source.notes, *notes))
    if not sampled:
        _note_heights(draft, source, elev_m)


def _note_heights(draft: Draft, source: ElevationSource, elev_m: F32) -> None:
    """Say of a raster looked at whole that it holds what no ground has: it may lie beyond the window of a screening."""
    try:
        check_heights(elev_m, name=source.path.name, unit=source.vertical_unit, cell_m=source.grid.cell_m)
    except ScreeningError as problem:
        draft.add([note(NoteKind.CAUTION, draft.subject, NoteCode.HEIGHTS_UNLIKELY, message=str(problem))])


def inspect_context(request: SiteRequest, fine: Grid | None) -> Draft:
    """Look at the coarser elevation."""
    draft = Draft(subject=NoteSubject.CONTEXT_ELEVATION, path=str(request.context_elevation))
    crs = fine.crs if fine is not None else None
    source = draft.attempt(lambda: open_context_elevation(request, crs=crs))
    draft.attempt(lambda: raster_facts(draft, source))
    notes = draft.attempt(lambda: check_context(source, fine)) if source is not None and fine is not None else None
    draft.add(notes or ())
    return draft


def _look(source: ElevationSource) -> tuple[F32, str, tuple[Note, ...]]:
    """Look at all cells of a small raster, every so many of a larger one, a few windows of one larger than memory.

    Returns
    -------
    Elevations [m], what part of the raster they are in words (empty = all), notes.
    """
    path, cells = source.path, source.cells
    whole = (cells.n_rows, cells.n_cols)
    with open_raster(path) as raster:
        has_overviews = bool(raster.overviews(1))
    if cells.n_rows * cells.n_cols <= MAX_CELLS or has_overviews:
        look = (min(cells.n_rows, _LOOK_CELLS), min(cells.n_cols, _LOOK_CELLS))
        elev_m, notes = read_cells(path, cells, row=0, col=0, shape=whole, out_shape=look)
        return elev_m, "" if look == whole else f" (of {look[0]} x {look[1]} cells looked at)", notes
    # Without overviews, every so many cells means every tile of the file.
    shape = (min(cells.n_rows, _LOOK_WINDOW), min(cells.n_cols, _LOOK_WINDOW))
    rows, cols = (
        np.linspace(0, n - part, _LOOK_WINDOWS).astype(int).tolist() for n, part in zip(whole, shape, strict=True)
    )
    looks = [read_cells(path, cells, row=row, col=col, shape=shape) for row in rows for col in cols]
    sampled = f" (of {len(looks)} windows of {shape[0]} x {shape[1]} cells)"
    return np.stack([elev_m for elev_m, _ in looks]), sampled, merge_notes(*(notes for _, notes in looks))
