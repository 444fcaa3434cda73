"""The saddles and outlets over which rising water joins basins to others, in the order in which it does."""

from typing import NamedTuple

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, I32, I64, compiled, striped
from screening.kernels.fill import BasinGraph

OCEAN = 0
_INDEX = 0x7FFFFFFF  # bits of the saddle or outlet in an event, of the second basin in a pair
_SHORT = 128  # up to this many are sorted by counting


class Joins(NamedTuple):
    """From the lowest up; basins have their numbers by pit, the ocean is 0."""

    low: I32
    high: I32
    """The two basins, low < high."""
    height: F32
    cell: I32
    """Flat index of the higher cell of the saddle, or of the outlet."""
    goes_to: I32
    """Where the water of a basin without depth goes, -1 for basins that hold water; (n_basins + 1,)."""


def find_joins(rank: I32, floor: F32, graph: BasinGraph, outlet_elev: F32, outlet_cell: I32) -> Joins:
    """List the saddles and outlets that join what lower ones have not joined.

    Those of one height are taken in the order of the pits of their two basins, then of their cells.

    Parameters
    ----------
    rank : (n_basins + 1,) int32
        Number of each basin of the graph by the raster order of the pits.
    floor : (n_basins + 1,) float32 [m]
        Elevation of the pits, in that order; +inf for the ocean.
    graph : BasinGraph
    outlet_elev : (n_basins + 1,) float32 [m]
    outlet_cell : (n_basins + 1,) int32
        Of the basins of the graph, those walled in opened.

    Returns
    -------
    Joins

    References
    ----------
    Kruskal (1956), doi:10.1090/S0002-9939-1956-0078686-7 (no other edge is part of the minimum spanning tree).
    """
    drained = np.flatnonzero(outlet_cell >= 0)
    n_saddles = graph.basin_a.size
    pairs, events = (np.empty(n_saddles + drained.size, np.int64) for _ in range(2))
    _list_saddles(graph.basin_a, graph.basin_b, graph.saddle_elev, rank, pairs, events)
    _list_outlets(drained, outlet_elev, rank, pairs[n_saddles:], events[n_saddles:], n_saddles)
    events.sort()  # numpy's own: several times as fast as a compiled one
    cell = np.concatenate((graph.saddle_cell, outlet_cell[drained]))
    goes_to = np.full(rank.size, -1, np.int32)
    low, high, sill = (np.empty(rank.size, np.int32) for _ in range(3))
    height = np.empty(rank.size, np.float32)
    sorted_pairs = np.empty(events.size, np.int64)
    _take_pairs(events, pairs, sorted_pairs)
    n = _join(
        events=events,
        pairs=sorted_pairs,
        cell=cell,
        floor=floor,
        goes_to=goes_to,
        low=low,
        high=high,
        height=height,
        sill=sill,
    )
    return Joins(low[:n], high[:n], height[:n], sill[:n], goes_to)


@compiled
def find_root(member_of: I32, member: int) -> int:
    """Find the member that stands for the set of the given one; paths to it are shortened.

    Parameters
    ----------
    member_of : (n,) int32
        Another member of the set of each, itself for the one that stands for the set. Changed.
    member : int

    Returns
    -------
    int

    References
    ----------
    Tarjan and van Leeuwen (1984), doi:10.1145/62.2160 (path halving).
    """
    # `member` is of the set asked for; each step halves the path for those that come later.
    while member_of[member] != member:
        member_of[member] = member_of[member_of[member]]
        member = int(member_of[member])
    return member


@compiled
def rank_by_height(height: float, index: int) -> int:
    """Height and index as one number that sorts as the height, then the index.

    Parameters
    ----------
    height : float32 [m]
    index : int
        0 to 2**31 - 1.

    Returns
    -------
    int64
    """
    bits = np.int64(np.float32(height).view(np.int32))
    # Negative floats sort the other way round, until all bits but the sign are flipped.
    key = bits if bits >= 0 else bits ^ 0x7FFFFFFF
    return np.int64(key << 32 | np.int64(index))  # type: ignore[return-value]


def index_of_rank(ranks: I64) -> I64:
    """Index of each of the numbers that `rank_by_height` makes.

    Parameters
    ----------
    ranks : (n,) int64

    Returns
    -------
    (n,) int64
    """
    return ranks & _INDEX


@striped
def _list_saddles(basin_a: I32, basin_b: I32, saddle_elev: F32, rank: I32, pairs: I64, events: I64) -> None:
    # Each element by itself.
    for i in prange(basin_a.size):
        one = np.int64(rank[basin_a[i]])
        other = np.int64(rank[basin_b[i]])
        pairs[i] = min(one, other) << 32 | max(one, other)
        events[i] = rank_by_height(saddle_elev[i], i)


@compiled
def _list_outlets(drained: I64, outlet_elev: F32, rank: I32, pairs: I64, events: I64, n_saddles: int) -> None:
    # Each element by itself. An outlet joins the ocean, 0, to its basin: the upper half of the pair is 0.
    for k in range(drained.size):
        pairs[k] = rank[drained[k]]
        events[k] = rank_by_height(outlet_elev[drained[k]], n_saddles + k)


@striped
def _take_pairs(events: I64, pairs: I64, sorted_pairs: I64) -> None:
    # Each element by itself: pairs in the order of the events, so that `_join` reads on and on.
    for i in prange(events.size):
        sorted_pairs[i] = pairs[events[i] & _INDEX]


@compiled
def _join(
    events: I64,
    pairs: I64,
    cell: I32,
    floor: F32,
    goes_to: I32,
    low: I32,
    high: I32,
    height: F32,
    sill: I32,
) -> int:
    """Join sets of basins, height by height; of the saddles of one height sort those that still join anything."""
    n = goes_to.size
    # Each basin knows its set, so that most saddles are dismissed by two look-ups; a join renames the smaller set.
    set_of = np.arange(n).astype(np.int32)
    next_in_set = np.arange(n).astype(np.int32)
    # Size and floor of each set stand side by side, for they are read together.
    sets = np.ones((n, 2), np.int32)
    sets[OCEAN, 0] = n  # never renamed
    set_floor = sets.view(np.float32)[:, 1]
    set_floor[:] = floor
    spare = np.empty((2, _SHORT), np.int64)
    n_joins = 0
    start = 0
    # All lower saddles are taken: no pair of them lies in two sets any more. `n_joins` is below the number of basins,
    # the room of the lists.
    while start < events.size:
        key = events[start] >> 32
        level = np.int32(key if key >= 0 else key ^ 0x7FFFFFFF).view(np.float32)
        end = start  # of the saddles that still join anything, put together in place
        stop = start
        # `[start:end]` holds those of `[start:stop]` that still join something; `end <= stop`, so nothing unread is
        # written over.
        while stop < events.size and events[stop] >> 32 == key:
            if set_of[pairs[stop] >> 32] != set_of[pairs[stop] & _INDEX]:
                pairs[end] = pairs[stop]
                events[end] = events[stop]
                end += 1
            stop += 1
        _sort_pairs(pairs[start:end], events[start:end], spare)
        # The saddles of this height before `k`, by pits, are taken too: the pair may be in one set by now.
        for k in range(start, end):
            basin_a = pairs[k] >> 32
            basin_b = pairs[k] & _INDEX
            if set_of[basin_a] == set_of[basin_b]:
                continue
            low[n_joins] = basin_a
            high[n_joins] = basin_b
            height[n_joins] = level
            sill[n_joins] = cell[events[k] & _INDEX]
            # a pair may be listed twice at this height
            other = k + 1
            # Equal pairs stand together; of their cells the first in raster order is kept.
            while other < end and pairs[other] == pairs[k]:
                sill[n_joins] = min(sill[n_joins], cell[events[other] & _INDEX])
                other += 1
            n_joins += 1
            # Before the sets are one: it asks which of the two lies level.
            _lead_level_water(basin_a, basin_b, level, set_of, set_floor, goes_to)
            _unite(basin_a, basin_b, set_of, next_in_set, sets)
        start = stop
    return n_joins


@compiled
def _lead_level_water(basin_a: int, basin_b: int, level: float, set_of: I32, set_floor: F32, goes_to: I32) -> None:
    """Settle where water goes that reaches the first saddle of a set, before the sets on its two sides are joined.

    If the set lies level with the saddle, all of its water goes into the other set, whose floor becomes that of both.
    If it lies lower its water stays; what stays, or has left, is marked by an infinite floor.
    """
    set_a = set_of[basin_a]
    set_b = set_of[basin_b]
    if set_floor[set_b] == level:
        _lead(goes_to, basin_b, basin_a)
        set_floor[set_b] = set_floor[set_a]
    elif set_floor[set_a] == level:
        _lead(goes_to, basin_a, basin_b)
        set_floor[set_a] = set_floor[set_b]
    else:
        set_floor[set_a] = np.inf
        set_floor[set_b] = np.inf


@compiled
def _unite(basin_a: int, basin_b: int, set_of: I32, next_in_set: I32, sets: I32) -> None:
    """Rename the smaller of the sets of two basins, and exchange what follows them: one ring of two."""
    if sets[set_of[basin_a], 0] < sets[set_of[basin_b], 0]:
        basin_a, basin_b = basin_b, basin_a
    into = set_of[basin_a]
    sets[into, 0] += sets[set_of[basin_b], 0]
    # The ring of the smaller set, from `basin_b` to before the current one, is renamed. A basin is renamed log2(n)
    # times at most.
    while set_of[basin_b] != into:
        set_of[basin_b] = into
        basin_b = next_in_set[basin_b]
    next_in_set[basin_a], next_in_set[basin_b] = next_in_set[basin_b], next_in_set[basin_a]


@compiled
def _lead(goes_to: I32, basin: int, into: int) -> None:
    """Turn the path inside a set round, so that all of its water leaves by `basin`, and lead that one on."""
    ahead = np.int64(into)
    # All from the first `basin` to the one before this lead the new way; this one still leads `behind`, the old way.
    while True:
        behind = np.int64(goes_to[basin])
        goes_to[basin] = ahead
        if behind < 0:
            return
        ahead = np.int64(basin)
        basin = int(behind)


@compiled
def _sort_pairs(pairs: I64, events: I64, spare: I64) -> None:
    n = pairs.size
    if n > _SHORT:
        # Equal pairs may change places: of those the smallest cell is taken anyway.
        order = np.argsort(pairs)
        pairs[:] = pairs[order]
        events[:] = events[order]
        return
    # The pairs before `k` stand at their places in `spare`.
    for k in range(n):
        # Counting those that come before takes more steps than inserting, but none that waits for another.
        place = 0
        # `place` counts those that come before `k`: equal ones earlier in the list, so that places differ.
        for other in range(k):
            place += pairs[other] <= pairs[k]
        for other in range(k + 1, n):
            place += pairs[other] < pairs[k]
        spare[0, place] = pairs[k]
        spare[1, place] = events[k]
    pairs[:] = spare[0, :n]
    events[:] = spare[1, :n]
