"""An independent solver: pools grow cell by cell, spill where lower ground is met, and merge in pairs."""

import heapq

import numpy as np


def pools_by_hand(elev, water):
    """Depth of standing water, and what left over the edge; all elevations must differ.

    `elev` [m] and `water` [m of depth by cell] have the shape of the grid; cells count as 1 in area.
    """
    n_rows, n_cols = elev.shape

    def near(place):
        row, col = place
        return [
            (r, c)
            for r in range(max(row - 1, 0), min(row + 2, n_rows))
            for c in range(max(col - 1, 0), min(col + 2, n_cols))
            if (r, c) != place
        ]

    def is_edge(place):
        return place[0] in (0, n_rows - 1) or place[1] in (0, n_cols - 1)

    def bottom(place):
        """The pit that water runs to by the steepest way, None where it leaves at an edge cell with no lower one."""
        while True:
            falls = {
                other: (elev[place] - elev[other]) / np.hypot(other[0] - place[0], other[1] - place[1])
                for other in near(place)
            }
            steepest = max(falls, key=falls.get)
            if falls[steepest] <= 0:
                return None if is_edge(place) else place
            place = steepest
        return None

    def grow(pits):
        """Cells that are under water when the pool overflows, the level, and the lower cell it overflows to."""
        inside, queue, level = set(), [], -np.inf
        for pit in pits:
            heapq.heappush(queue, (elev[pit], pit))
        seen = set(pits)
        while True:
            height, place = heapq.heappop(queue)
            # Pits of one pool are joined below the level at which it overflowed before.
            if height < level and not joined(pits, place, level):
                return {cell for cell in inside if elev[cell] < level}, level, place
            level = max(level, height)
            if is_edge(place):
                # Water leaves at an edge cell, unless the ground there falls to another pit.
                beyond = None if bottom(place) in pits else place
                return {cell for cell in inside if elev[cell] < level}, level, beyond
            inside.add(place)
            for other in near(place):
                if other not in seen:
                    seen.add(other)
                    heapq.heappush(queue, (elev[other], other))

    def joined(pits, place, level):
        """Whether lower ground behind a rim belongs to the pool: it runs down to one of the pool's pits."""
        return bottom(place) in pits

    left, pools = 0.0, {}
    volumes = {}
    for place in np.ndindex(elev.shape):
        pit = bottom(place)
        if pit is None:
            left += water[place]
        else:
            volumes[pit] = volumes.get(pit, 0.0) + water[place]
    for pit, volume in volumes.items():
        pools[frozenset([pit])] = [volume, *grow([pit])]

    def capacity(pool):
        _, cells, level, _ = pools[pool]
        return sum(level - elev[cell] for cell in cells)

    def pool_with(pit):
        return next(pool for pool in pools if pit in pool)

    while True:
        over = next((pool for pool in pools if pools[pool][0] > capacity(pool) + 1e-12), None)
        if over is None:
            break
        excess = pools[over][0] - capacity(over)
        beyond = pools[over][3]
        pit = None if beyond is None else bottom(beyond)
        if pit is None:
            left += excess
            pools[over][0] -= excess
            continue
        into = pool_with(pit)
        back = pools[into][3]
        returns = back is not None and bottom(back) in over
        if pools[into][0] >= capacity(into) - 1e-12 and returns:
            volume = pools.pop(over)[0] + pools.pop(into)[0]
            pools[over | into] = [volume, *grow(sorted(over | into))]
        else:
            pools[over][0] -= excess
            pools[into][0] += excess

    depth = np.zeros(elev.shape)
    for volume, cells, _, _ in pools.values():
        ground = sorted(float(elev[cell]) for cell in cells)
        for n in range(1, len(ground) + 1):
            level = (volume + sum(ground[:n])) / n
            if n == len(ground) or level <= ground[n]:
                break
        for cell in cells if volume > 0 else ():
            depth[cell] = max(level - elev[cell], 0.0)
    return depth, left
