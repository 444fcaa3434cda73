"""Culverts, pipes and drains as links: what they may take from which cells, and where it comes out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from screening.errors import InputError
from screening.models import F64, I64, Block, Surface, freeze
from screening.models.motion import LinkUse
from screening.motion.ground import MotionGround
from screening.terrain.intakes import intake_cells

if TYPE_CHECKING:
    from screening.kernels.inertial import Links

OFF_THE_GROUND = -1
"""Outlet of a link whose water comes out nowhere in the window."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Link:
    """What takes water from cells and lets it out at another.

    Parameters
    ----------
    name
        Kind and id.
    cells
        Flat indices of the cells it takes from, int64.
    crest_m
        Level that water must reach in each of them, float64 [m]; no higher than the ground = no sill.
    outlet
        Flat index of the cell where it comes out, or `OFF_THE_GROUND`.
    capacity_m3_s
        Most that it takes [m3/s]; inf = not given.
    """

    name: str
    cells: I64
    crest_m: F64
    outlet: int = OFF_THE_GROUND
    capacity_m3_s: float = float("inf")

    def __post_init__(self) -> None:
        freeze(self.cells, self.crest_m)
        if not self.capacity_m3_s >= 0:
            got = f"{self.capacity_m3_s:g} m3/s"
            raise InputError(f"The capacity of {self.name} cannot be used", got=got, expected="0 m3/s or more")


def least_capacity_m3_s(*, grate_m3_s: float, channel_m3_s: float, pipe_m3_s: float) -> float:
    """Give what a trench drain can take: the least of its grate, its channel and its pipe [m3/s]."""
    return min(grate_m3_s, channel_m3_s, pipe_m3_s)


def links_of(
    block: Block, surface: Surface, capacity_m3_s: Mapping[str, float], *, pipe_m3_s: float
) -> tuple[Link, ...]:
    """List the links of a block.

    A pipe has one inlet, a trench drain all cells that its line crosses. Roofs that an intake or a downspout takes are
    no links: their water is led where it falls (`motion.forcing`).

    Parameters
    ----------
    block, surface
        Of the same window.
    capacity_m3_s
        By kind and id (`culvert C1`, `trench drain D2`); a drain that is not named takes all that comes.
    pipe_m3_s
        Capacity of a pipe or culvert that is not named [m3/s].

    Raises
    ------
    InputError
        A capacity is named for something that is no link here.
    """
    conduits, links = surface.conduits, []
    drains = {intake.name for intake in block.intakes}
    is_ground = surface.structure_index.ravel() == 0
    for name in dict.fromkeys(conduits.name):
        own = np.flatnonzero((np.array(conduits.name) == name) & is_ground[conduits.inlet])
        for outlet in np.unique(conduits.outlet[own]).tolist():
            at = own[conduits.outlet[own] == outlet]
            crest = conduits.crest_m[at].astype(np.float64)
            limit = capacity_m3_s.get(name, float("inf") if name in drains else pipe_m3_s)
            links.append(Link(name=name, cells=conduits.inlet[at], crest_m=crest, outlet=outlet, capacity_m3_s=limit))
    for intake in block.intakes:
        cells = intake_cells(intake, block, surface.structure_index) if intake.outlet is None else np.empty(0, np.int64)
        cells = cells[is_ground[cells]]
        if cells.size:
            limit = capacity_m3_s.get(intake.name, float("inf"))
            low = np.full(cells.size, -np.inf)
            links.append(Link(name=intake.name, cells=cells, crest_m=low, capacity_m3_s=limit))
    unknown = sorted(set(capacity_m3_s) - {link.name for link in links})
    if unknown:
        known = ", ".join(sorted({link.name for link in links})) or "no links in this window"
        raise InputError("A capacity is given for what is no link", got=", ".join(unknown), expected=known)
    return tuple(links)


def kernel_links(links: Sequence[Link], ground: MotionGround) -> Links:
    """Lay links on the ground of a simulation, as the kernel takes them.

    Raises
    ------
    InputError
        A link begins or ends in a wall or a gap.
    """
    from screening.kernels.inertial import Links, padded_cell

    level, is_open = ground.elev_m.ravel(), ground.is_open.ravel()
    for link in links:
        ends = np.append(link.cells, link.outlet) if link.outlet >= 0 else link.cells
        if not is_open[ends].all():
            raise InputError(f"{link.name} begins or ends in a wall or a gap", expected="open ground at both ends")
    cells = np.concatenate([np.empty(0, np.int64), *(link.cells for link in links)])
    sizes = [link.cells.size for link in links]
    outlet = np.array([link.outlet for link in links], np.int64)
    crest = np.concatenate([np.empty(0), *(link.crest_m for link in links)])
    at_outlet = np.repeat(outlet, sizes)
    inlet_m = level[cells].astype(np.float64)
    drop = np.where(at_outlet >= 0, inlet_m - level[np.maximum(at_outlet, 0)], 0.0)
    return Links(
        start=np.cumsum([0, *sizes]).astype(np.int64),
        cell=padded_cell(cells, ground.grid.shape),
        sill_m=np.maximum(crest - inlet_m, 0.0),
        drop_m=drop,
        outlet=padded_cell(outlet, ground.grid.shape),
        capacity_m3_s=np.array([link.capacity_m3_s for link in links], np.float64),
        taken_m3=np.zeros(len(links)),
        peak_m3_s=np.zeros(len(links)),
    )


def link_uses(links: Sequence[Link], taken: Links) -> tuple[LinkUse, ...]:
    """Say what each link took."""
    numbers = zip(links, taken.peak_m3_s.tolist(), taken.taken_m3.tolist(), strict=True)
    return tuple(
        LinkUse(name=link.name, capacity_m3_s=link.capacity_m3_s, peak_m3_s=peak, taken_m3=total)
        for link, peak, total in numbers
    )
