"""The steepest of the eight triangular facets around each cell, and how its water is shared between their two corners.

Facets are numbered from the one between east and north-east, counter-clockwise.
"""

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, U8, compiled, striped
from screening.kernels.neighbours import COL_STEP, ROW_STEP

# The side and the diagonal neighbour of each facet.
_FACET_SIDE = (4, 1, 1, 3, 3, 6, 6, 4)
_FACET_DIAGONAL = (2, 2, 0, 0, 5, 5, 7, 7)
_QUARTER_TURN_SHARE = 4.0 / np.pi
_NO_FACET = 8


def dinf_shares(filled: F32, codes: U8) -> tuple[U8, F32]:
    """Receivers of each cell, and the share of the one it shares a side with (else of its only one).

    Parameters
    ----------
    filled : (n_rows, n_cols) float32 [m]
    codes : (n_rows, n_cols) uint8

    Returns
    -------
    graph : (n_rows, n_cols) uint8
        Bit `k` where neighbour `k` receives.
    side_share : (n_rows, n_cols) float32 [0-1]
    """
    graph = np.empty(filled.shape, np.uint8)
    side_share = np.ones(filled.shape, np.float32)
    _steepest_facets(filled, codes, graph, side_share)
    return graph, side_share


@striped
def _steepest_facets(filled: F32, codes: U8, graph: U8, side_share: F32) -> None:
    n_rows, n_cols = filled.shape
    # Rows are independent. A row of `graph` first holds facets, and each is then replaced by its receivers.
    for row in prange(n_rows):
        is_inside = 0 < row < n_rows - 1
        if is_inside:
            _choose_facets(filled[row - 1], filled[row], filled[row + 1], graph[row])
        # The cells of the row before this one have their receivers; their facets are gone, and nobody asks for them.
        for col in range(n_cols):
            code = codes[row, col]
            # Edge cells have no whole facets, and flats none that descends: they follow their D8 receiver.
            if code < 8 and is_inside and 0 < col < n_cols - 1 and graph[row, col] < _NO_FACET:
                _follow_facet(filled, row, col, graph, side_share)
            else:
                graph[row, col] = 1 << code if code < 8 else 0


@compiled
def _choose_facets(north: F32, here: F32, south: F32, facets: U8) -> None:
    """Write the steepest facet of each cell of a row but the outer ones; the first of equals.

    Written out without branches so that the compiler can take many cells at a time.
    """
    facet: int
    # Each cell by itself; in double, because differences are squared.
    for col in range(1, here.size - 1):
        centre = np.float64(here[col])
        n, s = np.float64(north[col]), np.float64(south[col])
        w, e = np.float64(here[col - 1]), np.float64(here[col + 1])
        nw, ne = np.float64(north[col - 1]), np.float64(north[col + 1])
        sw, se = np.float64(south[col - 1]), np.float64(south[col + 1])
        best = 0.0
        facet = np.int64(_NO_FACET)  # type: ignore[assignment]  # as wide as a gradient
        # `facet` is the steepest of those so far, `best` its squared gradient: a later one must be steeper.
        squared = _squared_gradient(centre, e, ne)
        facet = 0 if squared > best else facet
        best = squared if squared > best else best
        squared = _squared_gradient(centre, n, ne)
        facet = 1 if squared > best else facet
        best = squared if squared > best else best
        squared = _squared_gradient(centre, n, nw)
        facet = 2 if squared > best else facet
        best = squared if squared > best else best
        squared = _squared_gradient(centre, w, nw)
        facet = 3 if squared > best else facet
        best = squared if squared > best else best
        squared = _squared_gradient(centre, w, sw)
        facet = 4 if squared > best else facet
        best = squared if squared > best else best
        squared = _squared_gradient(centre, s, sw)
        facet = 5 if squared > best else facet
        best = squared if squared > best else best
        squared = _squared_gradient(centre, s, se)
        facet = 6 if squared > best else facet
        best = squared if squared > best else best
        squared = _squared_gradient(centre, e, se)
        facet = 7 if squared > best else facet
        facets[col] = facet


@compiled
def _follow_facet(filled: F32, row: int, col: int, graph: U8, side_share: F32) -> None:
    """Put the receivers on the chosen facet in its place, and their shares."""
    side = _FACET_SIDE[graph[row, col]]
    diagonal = _FACET_DIAGONAL[graph[row, col]]
    elev_side = np.float64(filled[row + ROW_STEP[side], col + COL_STEP[side]])
    along = np.float64(filled[row, col]) - elev_side
    across = elev_side - np.float64(filled[row + ROW_STEP[diagonal], col + COL_STEP[diagonal]])
    # Steepest beyond the diagonal: all of the water goes along that edge.
    if across >= along:
        graph[row, col] = 1 << diagonal
    # Between the two: by the angle from the side, an eighth of a turn to the diagonal.
    elif across > 0:
        graph[row, col] = 1 << side | 1 << diagonal
        side_share[row, col] = 1.0 - np.arctan2(across, along) * _QUARTER_TURN_SHARE
    else:
        graph[row, col] = 1 << side


@compiled
def _squared_gradient(centre: float, elev_side: float, elev_diagonal: float) -> float:
    """Square of the descent on a facet, at most along its edges; 0 if it does not descend or has no data."""
    along = centre - elev_side
    across = elev_side - elev_diagonal
    to_diagonal = centre - elev_diagonal
    # `&`, not `and`: all of it is computed, without branches. With no data each condition is false.
    within = along * along + across * across
    inner = within if (across < along) & (across > 0) else 0.0
    by_side = along * along if (along > 0) & (across <= 0) else 0.0
    # The diagonal is sqrt(2) cells away: half of the square.
    by_diagonal = to_diagonal * to_diagonal / 2.0 if (to_diagonal > 0) & (across >= along) else 0.0
    return max(inner, max(by_side, by_diagonal))
