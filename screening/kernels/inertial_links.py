"""Links and gaps of a simulation in motion: water that leaves a cell other than over its faces."""

from typing import Any, NamedTuple

import numpy as np

from screening.kernels.compiling import F32, F64, I64, compiled


class Links(NamedTuple):
    """Pipes, culverts, drains. Cells are flat indices of the padded grid; those of link `i` are `start[i]` on."""

    start: I64
    """(n_links + 1,)"""
    cell: I64
    """Inlet cells, (n_cells,)."""
    sill_m: F64
    """Depth that stays in each inlet cell, (n_cells,)."""
    drop_m: F64
    """Ground of each inlet cell above that of the outlet, (n_cells,)."""
    outlet: I64
    """-1 = the water is taken off the ground, (n_links,)."""
    capacity_m3_s: F64
    """(n_links,)"""
    taken_m3: F64
    """What each took up to now, (n_links,)."""
    peak_m3_s: F64
    """Most that each took in a step, (n_links,)."""


@compiled
def run_links(depth: F32, links: Links, cell_area: float, dt: float) -> float:
    """Let links take at most their capacity; return what left the ground by those without an outlet [m3].

    A link takes from all its cells in proportion to what stands over their sills. Where the water at its outlet stands
    higher than that at the inlet nothing runs; where it would, half the difference evens both out.
    """
    flat = depth.ravel()
    left = 0.0
    for link in range(links.capacity_m3_s.size):
        outlet = links.outlet[link]
        at_outlet = np.float64(flat[outlet]) if outlet >= 0 else 0.0
        ready = 0.0
        for place in range(links.start[link], links.start[link + 1]):
            ready += _ready(flat, links, place, outlet, at_outlet)
        ready *= cell_area
        if ready <= 0.0:
            continue
        part = min(links.capacity_m3_s[link] * dt / ready, 1.0)
        took = 0.0
        for place in range(links.start[link], links.start[link + 1]):
            cell = links.cell[place]
            before = np.float64(flat[cell])
            flat[cell] = np.float32(before - part * _ready(flat, links, place, outlet, at_outlet))
            # What float32 took, not what was meant: the balance is that of the cells.
            took += before - np.float64(flat[cell])
        took *= cell_area
        links.taken_m3[link] += took
        links.peak_m3_s[link] = max(links.peak_m3_s[link], took / dt)
        if outlet >= 0:
            flat[outlet] = np.float32(np.float64(flat[outlet]) + took / cell_area)
        else:
            left += took
    return left


@compiled
def _ready(flat: F32, links: Links, place: int, outlet: int, at_outlet: float) -> Any:
    """Depth that could leave an inlet cell at once [m]."""
    depth = np.float64(flat[links.cell[place]])
    ready = depth - links.sill_m[place]
    if outlet >= 0:
        ready = min(ready, 0.5 * (depth + links.drop_m[place] - at_outlet))
    return max(ready, 0.0)


@compiled
def empty_gaps(depth: F32, gaps: I64, cell_area: float) -> float:
    """Take all water off cells beside a gap in the elevation; return how much [m3]."""
    flat = depth.ravel()
    left = 0.0
    for cell in gaps:
        left += np.float64(flat[cell])
        flat[cell] = np.float32(0.0)
    return left * cell_area
