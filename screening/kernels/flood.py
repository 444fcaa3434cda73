"""Minimax flood over the basin graph: the level at which each basin first drains."""

import numpy as np

from screening.kernels.compiling import F32, I32, I64, Mask, compiled

UNREACHED = np.int32(2147483647)


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
    start, near, height = _adjacency(basin_a, basin_b, _sort_keys(pass_elev), outlet_elev.size)
    keys = _flood(start, near, height, _sort_keys(outlet_elev), _sort_keys(floor_elev))
    levels: F32 = _sort_keys(keys.view(np.float32)).view(np.float32)
    levels[0] = np.nan
    return levels


@compiled
def _sort_keys(elev: F32 | I32) -> I32:
    """Integers that sort as the elevations do; applied to its own result it gives the bits back."""
    bits = elev.view(np.int32)
    keys = np.empty(bits.size, np.int32)
    for i in range(bits.size):
        keys[i] = bits[i] if bits[i] >= 0 else bits[i] ^ 0x7FFFFFFF
    return keys


@compiled
def _adjacency(basin_a: I32, basin_b: I32, height: I32, n: int) -> tuple[I64, I32, I32]:
    """Passes of basin `i` are entries start[i] to start[i + 1] of `near` and `height`."""
    start = np.zeros(n + 1, np.int64)
    for i in range(basin_a.size):
        start[basin_a[i] + 1] += 1
        start[basin_b[i] + 1] += 1
    for basin in range(n):
        start[basin + 1] += start[basin]
    place = start.copy()
    near = np.empty(2 * basin_a.size, np.int32)
    near_height = np.empty(2 * basin_a.size, np.int32)
    for i in range(basin_a.size):
        spot = place[basin_a[i]]
        near[spot] = basin_b[i]
        near_height[spot] = height[i]
        place[basin_a[i]] = spot + 1
        spot = place[basin_b[i]]
        near[spot] = basin_a[i]
        near_height[spot] = height[i]
        place[basin_b[i]] = spot + 1
    return start, near, near_height


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
def _flood(start: I64, near: I32, height: I32, outlet: I32, floor: I32) -> I32:
    n = outlet.size
    none = np.full(1, np.float32(np.inf), np.float32).view(np.int32)[0]
    level = np.full(n, UNREACHED, np.int32)
    done = np.zeros(n, np.bool_)
    heap = np.empty(near.size + n, np.int64)  # each pass is pushed at most once from either side
    stack = np.empty(n, np.int32)
    grouped = np.zeros(n, np.bool_)
    size = 0
    for basin in range(1, n):
        if outlet[basin] < none:
            level[basin] = outlet[basin]
            _push(heap, size, np.int64(outlet[basin]) << 32 | np.int64(basin))
            size += 1
    _spread(start, near, height, level, done, heap, size, stack)
    for basin in range(1, n):
        if not done[basin]:
            size = _seed_enclosed(basin, start, near, floor, level, heap, stack, grouped)
            _spread(start, near, height, level, done, heap, size, stack)
    return level


@compiled
def _spread(start: I64, near: I32, height: I32, level: I32, done: Mask, heap: I64, size: int, stack: I32) -> None:
    while size > 0:
        basin = _pop(heap, size) & 0x7FFFFFFF
        size -= 1
        if done[basin]:
            continue
        flooded = level[basin]
        done[basin] = True
        stack[0] = basin
        n_stack = 1
        while n_stack > 0:  # basins behind a pass no higher than the flood need no heap
            n_stack -= 1
            basin = np.int64(stack[n_stack])
            for i in range(start[basin], start[basin + 1]):
                other = near[i]
                if done[other]:
                    continue
                if height[i] <= flooded:
                    done[other] = True
                    level[other] = flooded
                    stack[n_stack] = other
                    n_stack += 1
                elif height[i] < level[other]:
                    level[other] = height[i]
                    _push(heap, size, np.int64(height[i]) << 32 | np.int64(other))
                    size += 1


@compiled
def _seed_enclosed(
    seed: int, start: I64, near: I32, floor: I32, level: I32, heap: I64, group: I32, grouped: Mask
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
            if not grouped[near[i]]:
                grouped[near[i]] = True
                group[n_group] = near[i]
                n_group += 1
    size = 0
    for i in range(n_group):
        basin = np.int64(group[i])
        if floor[basin] == lowest:
            level[basin] = lowest
            _push(heap, size, np.int64(lowest) << 32 | basin)
            size += 1
    return size
