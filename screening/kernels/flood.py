"""Minimax flood over the basin graph: the level at which each basin first drains."""

import numpy as np

from screening.kernels.compiling import F32, I32, I64, Mask, compiled

UNREACHED = np.int32(2147483647)
_BASIN = 0x7FFFFFFF  # bits of the basin in an item of the heap; the height, as a sort key, is above them


def flood_levels(basin_a: I32, basin_b: I32, pass_elev: F32, outlet_elev: F32, floor_elev: F32) -> F32:
    """Lowest level from which each basin has a way out over the passes.

    Basins without any way out, walled in by no data, drain at the lowest floor among those they touch.

    Parameters
    ----------
    basin_a, basin_b : (n_passes,) int32
    pass_elev : (n_passes,) float32 [m]
    outlet_elev : (n_basins + 1,) float32 [m]
        Lowest elevation at which a basin drains out of the data, +inf where it does not.
    floor_elev : (n_basins + 1,) float32 [m]
        Elevation of each basin's pit; may be empty where every basin has a way out.

    Returns
    -------
    (n_basins + 1,) float32 [m]
        Element 0, no data, is NaN.
    """
    n_passes, n = basin_a.size, outlet_elev.size
    start = np.zeros(n + 1, np.int64)
    near = np.empty(2 * n_passes, np.int64)
    _join_basins(basin_a, basin_b, _sort_keys(pass_elev), start, near)
    level = np.full(n, UNREACHED, np.int32)
    heap = np.empty(near.size + n, np.int64)  # each pass is pushed at most once from either side
    stack = np.empty(n, np.int32)
    _flood(start, near, _sort_keys(outlet_elev), level, heap, stack)
    if (level[1:] == UNREACHED).any():
        _flood_enclosed(start, near, _sort_keys(floor_elev), level, heap, stack)
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
    for i in range(bits.size):
        keys[i] = bits[i] if bits[i] >= 0 else bits[i] ^ 0x7FFFFFFF


@compiled
def _join_basins(basin_a: I32, basin_b: I32, height: I32, start: I64, near: I64) -> None:
    """List the passes of basin `i` as entries start[i] to start[i + 1] of `near`: height, then the other basin."""
    for i in range(basin_a.size):
        start[basin_a[i] + 1] += 1
        start[basin_b[i] + 1] += 1
    for basin in range(start.size - 1):
        start[basin + 1] += start[basin]
    place = start.copy()
    for i in range(basin_a.size):
        key = np.int64(height[i]) << 32
        near[place[basin_a[i]]] = key | np.int64(basin_b[i])
        near[place[basin_b[i]]] = key | np.int64(basin_a[i])
        place[basin_a[i]] += 1
        place[basin_b[i]] += 1


@compiled
def _push(heap: I64, size: int, item: int) -> None:
    place = size
    while place > 0:
        parent = (place - 1) >> 1
        if heap[parent] <= item:
            break
        heap[place] = heap[parent]
        place = parent
    heap[place] = item


@compiled
def _pop(heap: I64, size: int) -> int:
    """Smallest item of a heap of `size`; the hole sinks to the bottom first, which halves the comparisons."""
    top = heap[0]
    size -= 1
    item = heap[size]
    place = 0
    child = 1
    while child < size:
        if child + 1 < size and heap[child + 1] < heap[child]:
            child += 1
        heap[place] = heap[child]
        place = child
        child = 2 * place + 1
    while place > 0:
        parent = (place - 1) >> 1
        if heap[parent] <= item:
            break
        heap[place] = heap[parent]
        place = parent
    heap[place] = item
    return int(top)


@compiled
def _flood(start: I64, near: I64, outlet: I32, level: I32, heap: I64, stack: I32) -> None:
    none = np.full(1, np.float32(np.inf), np.float32).view(np.int32)[0]
    size = 0
    for basin in range(1, outlet.size):
        if outlet[basin] < none:
            level[basin] = outlet[basin]
            _push(heap, size, np.int64(outlet[basin]) << 32 | np.int64(basin))
            size += 1
    _spread(start, near, level, heap, size, stack)


@compiled
def _flood_enclosed(start: I64, near: I64, floor: I32, level: I32, heap: I64, stack: I32) -> None:
    grouped = np.zeros(level.size, np.bool_)
    for basin in range(1, level.size):
        if level[basin] == UNREACHED:
            size = _seed_enclosed(basin, start, near, floor, level, heap, stack, grouped)
            _spread(start, near, level, heap, size, stack)


@compiled
def _spread(start: I64, near: I64, level: I32, heap: I64, size: int, stack: I32) -> None:
    """Flood from the seeds in the heap; a basin at or below the flood has its level, or gets it from the heap."""
    while size > 0:
        item = _pop(heap, size)
        size -= 1
        basin = item & _BASIN
        flooded = item >> 32
        if level[basin] != flooded:  # a lower way in was found since
            continue
        stack[0] = basin
        n_stack = 1
        while n_stack > 0:  # basins behind a pass no higher than the flood need no heap
            n_stack -= 1
            basin = np.int64(stack[n_stack])
            for i in range(start[basin], start[basin + 1]):
                item = near[i]
                other = item & _BASIN
                height = item >> 32
                if height < level[other] and flooded < level[other]:
                    if height <= flooded:
                        level[other] = flooded
                        stack[n_stack] = other
                        n_stack += 1
                    else:
                        level[other] = height
                        _push(heap, size, item)
                        size += 1


@compiled
def _seed_enclosed(
    seed: int, start: I64, near: I64, floor: I32, level: I32, heap: I64, group: I32, grouped: Mask
) -> int:
    """Let the lowest floors of an enclosed group drain; all that tie do, so mirroring changes nothing."""
    group[0] = seed
    grouped[seed] = True
    n_group = 1
    read = 0
    lowest = floor[seed]
    while read < n_group:
        basin = np.int64(group[read])
        read += 1
        lowest = min(lowest, floor[basin])
        for i in range(start[basin], start[basin + 1]):
            other = near[i] & _BASIN
            if not grouped[other]:
                grouped[other] = True
                group[n_group] = other
                n_group += 1
    size = 0
    for i in range(n_group):
        basin = np.int64(group[i])
        if floor[basin] == lowest:
            level[basin] = lowest
            _push(heap, size, np.int64(lowest) << 32 | basin)
            size += 1
    return size
