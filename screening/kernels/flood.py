"""Minimax flood over the basin graph: the level at which each basin first drains.

Saddles and outlets are taken from the lowest up. A saddle joins the pools on its two sides; a pool that meets drained
ground, or an outlet of its own, drains at that height with all its basins. Each basin drains once.
"""

import numpy as np

from screening.kernels.compiling import F32, I32, I64, compiled

UNREACHED = np.int32(2147483647)
_NO_OUTLET = np.array([np.inf], np.float32).view(np.int32)[0]
_INDEX = 0x7FFFFFFF  # bits of the saddle or outlet in an event; the height, as a sort key, is above them


def flood_levels(basin_a: I32, basin_b: I32, saddle_elev: F32, outlet_elev: F32, floor_elev: F32) -> F32:
    """Lowest level from which each basin has an outfall over the saddles.

    Basins without any outlet, walled in by no data, drain at the lowest floor among those they touch.

    Parameters
    ----------
    basin_a, basin_b : (n_saddles,) int32
    saddle_elev : (n_saddles,) float32 [m]
    outlet_elev : (n_basins + 1,) float32 [m]
        Lowest elevation at which a basin drains out of the data, +inf where it does not.
    floor_elev : (n_basins + 1,) float32 [m]
        Elevation of each basin's pit; may be empty where every basin has an outfall.

    Returns
    -------
    (n_basins + 1,) float32 [m]
        Element 0, no data, is NaN.

    References
    ----------
    Kruskal (1956), doi:10.1090/S0002-9939-1956-0078686-7 (edges from the lowest up give minimax paths).
    """
    n = outlet_elev.size
    height, outlet = _sort_keys(saddle_elev), _sort_keys(outlet_elev)
    level = np.full(n, UNREACHED, np.int32)
    # Any key but `UNREACHED` would do: it is replaced by NaN below.
    level[0] = 0  # the ground that all outlets lead to
    next_in_pool = np.arange(n, dtype=np.int32)
    _drain_pools(basin_a, basin_b, _events(height, outlet), level, next_in_pool)
    if (level == UNREACHED).any():
        # Once more from the start, with the outlets that the enclosed pools were given; basins that drain keep their
        # level.
        _open_enclosed(_sort_keys(floor_elev), level, next_in_pool, outlet)
        next_in_pool[:] = np.arange(n, dtype=np.int32)
        _drain_pools(basin_a, basin_b, _events(height, outlet), level, next_in_pool)
    # Keys to bits to elevations.
    levels: F32 = _sort_keys(level.view(np.float32)).view(np.float32)
    levels[0] = np.nan
    return levels


def _sort_keys(elev: F32) -> I32:
    """Integers that sort as the elevations do; applied to its own result it gives the bits back."""
    bits = elev.view(np.int32)
    keys = np.empty(bits.size, np.int32)
    _flip_negatives(bits, keys)
    return keys


@compiled
def _flip_negatives(bits: I32, keys: I32) -> None:
    # Bits of positive floats sort as the floats do; negative ones sort the other way round, until all but the sign is
    # flipped.
    for i in range(bits.size):
        keys[i] = bits[i] if bits[i] >= 0 else bits[i] ^ 0x7FFFFFFF


def _events(height: I32, outlet: I32) -> I64:
    """Saddles, and outlets numbered on after them by basin, from the lowest up."""
    events = np.empty(height.size + np.count_nonzero(outlet < _NO_OUTLET), np.int64)
    _list_events(height, outlet, events)
    events.sort()  # numpy's own: several times as fast as a compiled one
    return events


@compiled
def _list_events(height: I32, outlet: I32, events: I64) -> None:
    # `events[:i]` hold the saddles before i: key above, index below, so that one sort orders both.
    for i in range(height.size):
        events[i] = np.int64(height[i]) << 32 | np.int64(i)
    n = height.size
    # `events[:n]` hold all saddles and the outlets of the basins before this one.
    for basin in range(outlet.size):
        if outlet[basin] < _NO_OUTLET:
            events[n] = np.int64(outlet[basin]) << 32 | np.int64(height.size + basin)
            n += 1


@compiled
def _drain_pools(basin_a: I32, basin_b: I32, events: I64, level: I32, next_in_pool: I32) -> None:
    """Set the level of each basin that drains; the basins of a pool that does not are left in a ring."""
    n_saddles = basin_a.size
    leader = np.arange(level.size).astype(np.int32)
    # All lower saddles and outlets are taken: a basin has its level if they lead it out, else it stands in the ring of
    # its pool.
    for event in events:
        i = event & _INDEX
        # An outlet joins its basin to basin 0, the ground that is drained from the start.
        one = np.int64(0)
        other = i - n_saddles
        if i < n_saddles:
            one = np.int64(basin_a[i])
            other = np.int64(basin_b[i])
        is_one_dry = level[one] != UNREACHED
        is_other_dry = level[other] != UNREACHED
        if is_one_dry and is_other_dry:
            continue
        if is_one_dry or is_other_dry:
            basin = other if is_one_dry else one
            # Round the ring, until back at the first basin that was set; the shift keeps the sign of the key.
            while level[basin] == UNREACHED:
                level[basin] = event >> 32
                basin = np.int64(next_in_pool[basin])
        elif _join(leader, one, other):
            after = next_in_pool[one]  # exchanging what follows makes one ring of two
            next_in_pool[one] = next_in_pool[other]
            next_in_pool[other] = after


@compiled
def _join(leader: I32, one: int, other: int) -> bool:
    """Put two basins under one leader; False where they are already."""
    # Leaders lead to the same set; each step halves the path for those that come later.
    while leader[one] != one:
        leader[one] = leader[leader[one]]
        one = int(leader[one])
    # The same for the other.
    while leader[other] != other:
        leader[other] = leader[leader[other]]
        other = int(leader[other])
    leader[other] = one
    return bool(one != other)


@compiled
def _open_enclosed(floor: I32, level: I32, next_in_pool: I32, outlet: I32) -> None:
    """Give the lowest floors of each enclosed pool an outlet; all that tie, so mirroring changes nothing."""
    seen = np.zeros(level.size, np.bool_)
    # All pools of the basins before `first` have their outlets.
    for first in range(1, level.size):
        if level[first] != UNREACHED or seen[first]:
            continue
        lowest = floor[first]
        basin = np.int64(next_in_pool[first])
        # `lowest` is the lowest floor from `first` round the ring to the basin before this one.
        while basin != first:
            lowest = min(lowest, floor[basin])
            basin = np.int64(next_in_pool[basin])
        # Round the ring from `first` once more, to give all that tie an outlet.
        while not seen[basin]:
            seen[basin] = True
            if floor[basin] == lowest:
                outlet[basin] = lowest
            basin = np.int64(next_in_pool[basin])
