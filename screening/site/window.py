"""How far a window must reach so that its lots are screened alike alone and among others."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from functools import partial

import numpy as np

from screening.grid import Bounds
from screening.models import (
    EAST_SIDE,
    NORTH_SIDE,
    SOUTH_SIDE,
    WEST_SIDE,
    Block,
    WindowView,
    note,
)
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject, UnseenWater
from screening.schema.columns import plain_text_columns
from screening.schema.criteria import Criteria

WINDOW_CELLS_MAX = 10_000_000
"""Largest window that is grown to: about 300 bytes a cell at the peak of a screening, so 3 GB."""

_SIDE_NAMES = {NORTH_SIDE: "north", EAST_SIDE: "east", SOUTH_SIDE: "south", WEST_SIDE: "west"}


@plain_text_columns()
def close_window(
    lots: Bounds,
    load: Callable[[Bounds], Block],
    *,
    criteria: Criteria,
    has_context: bool = False,
    start_m: float = 0.0,
    cells_max: int = WINDOW_CELLS_MAX,
    look: Callable[[Block], WindowView] | None = None,
) -> Block:
    """Grow the window from the lots until it hides nothing that matters to them, or to the stated limit.

    It grows on the sides from which unseen water may reach a lot, until every catchment closes. Then it looks once
    further on all sides: ground beyond may hold up the water that leaves, or send over water that seemed to leave
    elsewhere. If levels or contributing areas on the lots change, the wider window stays and the search goes on.
    So a lot is screened alike alone and among others, as far as the look reaches.

    With a coarser elevation around, a side that stays open grows no farther than `context_window_m`, unless the look
    shows that the levels on the lots are not settled: what lies beyond is then left to the coarser elevation.

    Parameters
    ----------
    lots
        Extent of the lots [m].
    load
        Makes the block of a window, cut to where there is elevation.
    criteria
        `window_margin_m`, `window_look_m`, `window_limit_m`, `context_window_m`.
    has_context
        Whether a coarser elevation supplies what a side that stays open would hide.
    start_m
        Reach to begin with where it is more than `window_margin_m`: a block of many lots nearly always needs more, and
        what a window shows beyond what is needed changes nothing.
    cells_max
        Largest window that is grown to.
    look
        What a window shows of its lots; `pipeline.look_around` by default.

    Returns
    -------
    The block; where the window did not close, a note names the sides.
    """
    from screening.pipeline import look_around

    limit = criteria.site.window_limit_m
    reach = dict.fromkeys(_SIDE_NAMES, min(max(criteria.site.window_margin_m, start_m), limit))
    see = look or partial(look_around, criteria=criteria)
    block = load(_widen(lots, reach))
    view = see(block)
    while True:
        can_grow = sum(side for side in _SIDE_NAMES if not block.data_sides & side and reach[side] < limit)
        still_open = view.open_sides & can_grow
        if has_context:
            still_open &= sum(side for side in _SIDE_NAMES if reach[side] < criteria.flow.context_window_m)
        least = 0.0 if still_open else criteria.site.window_look_m
        most = min(limit, criteria.flow.context_window_m) if has_context and still_open else limit
        further = {
            side: min(max(reach[side] * 2.0, least), most) for side in _SIDE_NAMES if side & (still_open or can_grow)
        }
        is_cut = _cells(_widen(lots, reach | further), block) > cells_max
        if not further or is_cut:
            cut_to = cells_max if is_cut else None
            return _note_open_sides(block, view.open_sides, reach, cut_to=cut_to, has_context=has_context)
        wider = load(_widen(lots, reach | further))
        wider_view = see(wider)
        by_area = not (has_context and view.open_sides)
        if not still_open and _shows_the_same(view, wider_view, by_area=by_area):
            return _note_open_sides(block, view.open_sides, reach, has_context=has_context)
        block, view, reach = wider, wider_view, reach | further


def is_cut_by_size(block: Block, *, cells_max: int) -> bool:
    """True where the window of a block stopped at the number of cells that it may have, still open."""
    at_cells = (NoteCode.WINDOW_AT_CELLS, NoteCode.WINDOW_ENDS_AND_CELLS)
    return any(each.code in at_cells and each.value("cells_max") == cells_max for each in block.notes)


def _shows_the_same(view: WindowView, wider: WindowView, *, by_area: bool) -> bool:
    same_levels = np.array_equal(view.level_m, wider.level_m, equal_nan=True)
    if not by_area:
        return same_levels
    return same_levels and np.array_equal(view.area_m2, wider.area_m2) and np.array_equal(view.above, wider.above)


def _widen(bounds: Bounds, reach: dict[int, float]) -> Bounds:
    west, south, east, north = bounds
    return (
        west - reach[WEST_SIDE],
        south - reach[SOUTH_SIDE],
        east + reach[EAST_SIDE],
        north + reach[NORTH_SIDE],
    )


def _cells(bounds: Bounds, block: Block) -> float:
    west, south, east, north = bounds
    return (east - west) * (north - south) / block.grid.cell_area_m2


def _note_open_sides(
    block: Block, still_open: int, reach: dict[int, float], *, cut_to: int | None = None, has_context: bool
) -> Block:
    if not still_open:
        return block
    at_data_end = [name for side, name in _SIDE_NAMES.items() if still_open & side & block.data_sides]
    at_limit = [name for side, name in _SIDE_NAMES.items() if still_open & side & ~block.data_sides]
    said = partial(
        note,
        NoteKind.ASSUMED if has_context else NoteKind.CAUTION,
        NoteSubject.WINDOW,
        beyond=UnseenWater.FROM_CONTEXT if has_context else UnseenWater.UNKNOWN,
    )
    ends, stopped = ", ".join(at_data_end), ", ".join(at_limit)
    limit_m = max((reach[side] for side in _SIDE_NAMES if still_open & side & ~block.data_sides), default=0.0)
    if not at_limit:
        found = said(NoteCode.WINDOW_ELEVATION_ENDS, ends=ends)
    elif cut_to is None and at_data_end:
        found = said(NoteCode.WINDOW_ENDS_AND_LIMIT, ends=ends, limit_m=limit_m, stopped=stopped)
    elif cut_to is None:
        found = said(NoteCode.WINDOW_AT_LIMIT, limit_m=limit_m, stopped=stopped)
    elif at_data_end:
        found = said(NoteCode.WINDOW_ENDS_AND_CELLS, ends=ends, cells_max=cut_to, stopped=stopped)
    else:
        found = said(NoteCode.WINDOW_AT_CELLS, cells_max=cut_to, stopped=stopped)
    return dataclasses.replace(block, notes=(*block.notes, found))
