"""Where water first meets a zone, and where water that leaves a zone meets it again."""

from __future__ import annotations

import numpy as np

from screening.kernels.compiling import I32, I64, U8, compiled


def next_zone_cells(receiver: I32, zone_start: I64, zone_cells: I64) -> tuple[I64, I64]:
    """Find, for each cell of each zone, the next cell of its zone that its water meets on the way down.

    With these, what first meets a zone at a cell is all that drains through the cell, less what drains through the
    cells of the zone that it is next to: these parts add up to the zone's total.

    Parameters
    ----------
    receiver : (n_cells,) int32
    zone_start : (n_zones + 1,) int64
        Cells of zone `i` are `zone_cells[zone_start[i]:zone_start[i + 1]]`, each once; zones may overlap.
    zone_cells : (n,) int64
        Flat indices.

    Returns
    -------
    place : (n,) int64
        Place in `zone_cells` of the next cell of the same zone, -1 where the water leaves for good.
    last : (n,) int64
        Flat index of the last cell before that next one: the cell itself where they are neighbours, -1 as above.
    """
    mark = np.full(receiver.size, -1, np.int32)
    place, last = _next_cells(receiver, zone_start, zone_cells, mark)
    return place, last


@compiled
def _next_cells(receiver, zone_start, zone_cells, mark):  # type: ignore[no-untyped-def]
    n = zone_cells.size
    place = np.full(n, -1, np.int64)
    last = np.full(n, -1, np.int64)
    # Marks of a zone lie from `base` up: its cells by their place, then the cells walked below each of them.
    # Marks of earlier zones, and the first -1, lie below `base`: nothing is cleared. A zone uses two marks for each of
    # its cells at most.
    for zone in range(zone_start.size - 1):
        first, end = zone_start[zone], zone_start[zone + 1]
        base = 2 * first
        beyond = base + end - first
        # All cells of the zone are marked before the first is followed.
        for i in range(first, end):
            mark[zone_cells[i]] = base + i - first
        # Cells of the zone before `i` are answered, and the paths walked from them bear their place.
        for i in range(first, end):
            start = zone_cells[i]
            if receiver[start] < 0 or receiver[start] == start:
                continue
            before = start
            cell = np.int64(receiver[start])
            # `before` is the last cell walked; none from the start to it lies in the zone, the start left aside.
            while mark[cell] < base and receiver[cell] != cell:
                mark[cell] = beyond + i - first
                before = cell
                cell = np.int64(receiver[cell])
            # Below `base` at an outlet: the water leaves for good, and the answer stays -1.
            state = mark[cell]
            if state >= beyond:
                # A path walked before, from the cell at `known`: from here on the two are one.
                known = first + state - beyond
                place[i], last[i] = place[known], last[known]
            elif state >= base:
                place[i], last[i] = first + state - base, before
    return place, last


@compiled
def where_it_comes_back(receiver: I32, is_zone: U8, leaving: I64) -> I64:
    """Follow the water that steps out of a zone until it comes back.

    Parameters
    ----------
    receiver : (n_cells,) int32 or int64
    is_zone : (n_cells,) uint8
    leaving : (n,) int64
        Cells of the zone whose receiver lies outside it.

    Returns
    -------
    (n,) int64
        The last cell outside before it steps back in, -1 where it does not.
    """
    back = np.full(leaving.size, -1, np.int64)
    # Cells before `number` in the list are answered.
    for number in range(leaving.size):
        cell = np.int64(receiver[leaving[number]])
        # `cell` lies outside the zone, and so does all of the path down to it.
        while receiver[cell] != cell:
            below = np.int64(receiver[cell])
            if is_zone[below]:
                back[number] = cell
                break
            cell = below
    return back
