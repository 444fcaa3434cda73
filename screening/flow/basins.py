"""The graph of basins that a surface drains over: the fill floods it, the depression hierarchy merges it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from screening.models import Surface, freeze
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    from screening.kernels.conduit_links import Pipes
    from screening.kernels.fill import BasinGraph


def find_basins(surface: Surface, *, criteria: Criteria) -> BasinGraph:
    """Find the basins of a surface, the saddles between them, over ground and through pipes, and their outlets.

    Parameters
    ----------
    surface
        With walls raised, swales cut, and its pipes.
    criteria
        `nodata_drains`.

    Returns
    -------
    The graph, its arrays read-only; a pipe is a pass at its crest whose cell is its inlet, and where water is taken
    off the ground is an outlet.
    """
    from screening.kernels.fill import build_basin_graph, with_pipes, with_sinks

    graph = with_pipes(build_basin_graph(surface.routed_elev_m, criteria.terrain.nodata_drains), pipes_of(surface))
    graph = with_sinks(graph, surface.routed_elev_m, surface.conduits.sink_cell)
    freeze(*graph)
    return graph


def pipes_of(surface: Surface) -> Pipes:
    """Give the pipes of a surface as the kernels take them."""
    from screening.kernels.conduit_links import Pipes

    conduits = surface.conduits
    return Pipes(conduits.inlet, conduits.outlet, conduits.crest_m)
