"""Simulation under elevation error: what depends on the elevation, found on the ground with one realisation of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial

from screening.depressions.find import low_spot_depths
from screening.driveways.share import measure_driveways
from screening.findings.confidence import key_of, low_spot_cells
from screening.findings.summary import measure_off_lot
from screening.findings.terrain import Routed, Site, check_terrain, route_water
from screening.flow.boundary_crossings import close_edge
from screening.flow.catchments import measure_catchments
from screening.models import F32, I64, Block, Crossings, Inflow, Realisation
from screening.schema.criteria import Criteria
from screening.structures.exposure import measure_walls
from screening.structures.walls import Walls
from screening.terrain.elevation_error import elevation_error_m
from screening.terrain.surface import build_surface

RunCalls = Callable[[Callable[[int], Realisation], Iterable[int]], Iterable[Realisation]]
"""Calls a function with each number of a range, and gives what it returns in their order."""


def simulate_block(
    block: Block, site: Site, routed: Routed, *, run_calls: RunCalls, criteria: Criteria
) -> list[Realisation]:
    """Simulate a block under elevation error, as often as the criteria ask.

    Parameters
    ----------
    block, site, routed
        Of the same window, without error.
    run_calls
        Calls the simulation with each number: it may be shared out to other processes.
    criteria
        Every threshold.
    """
    simulate = partial(
        simulate_findings,
        block=block,
        walls=site.walls,
        filled_elev_m=routed.flow.filled_elev_m,
        crossings=site.crossings,
        inflow=routed.flow.inflow,
        cells=low_spot_cells(routed.low_spots),
        criteria=criteria,
    )
    return list(run_calls(simulate, range(criteria.findings.n_realisations)))


def simulate_findings(
    number: int,
    *,
    block: Block,
    walls: Walls,
    filled_elev_m: F32,
    crossings: Crossings | None,
    inflow: Inflow,
    cells: I64,
    criteria: Criteria,
) -> Realisation:
    """Simulate, on the ground with one realisation of its error, what depends on the elevation.

    The storm, outlines, flow paths and infiltration are left out: confidence does not need them.

    Parameters
    ----------
    number
        Of the realisation, from 0.
    block, walls
        Of the same window: walls do not depend on the elevation.
    filled_elev_m
        The routed surface without low spots: on it the same error makes low spots by chance.
    crossings, inflow
        What comes from beyond the window: it keeps the cells that it comes in at.
    cells
        Where low spots are asked for, as flat indices.
    criteria
        Every threshold.
    """
    error_m = elevation_error_m(block.grid, number, criteria=criteria)
    by_chance = low_spot_depths(filled_elev_m + error_m, cell_area_m2=block.grid.cell_area_m2, criteria=criteria)
    block = block.with_elevation(block.elev_m + error_m)
    surface = close_edge(block, build_surface(block, criteria=criteria), crossings, criteria=criteria)
    routed = route_water(block, surface, crossings, inflow=inflow, criteria=criteria)
    walled = measure_walls(block, surface, walls, routed.flow, routed.low_spots, criteria=criteria)
    structures = walled.table
    catchments = measure_catchments(routed.flow, block)
    verdicts = check_terrain(
        block,
        lots=catchments.assign(off_lot_area_m2=measure_off_lot(block, routed.flow, catchments)),
        structures=structures,
        driveways=measure_driveways(block, surface, routed.flow, criteria=criteria).table,
        criteria=criteria,
        is_simulation=True,
    )
    return Realisation(
        in_low_spot=routed.low_spots.label.ravel()[cells] > 0,
        chance_depth_m=by_chance.ravel()[cells],
        exposure=dict(zip(structures["structure_id"], structures["exposure"], strict=True)),
        outcome={key_of(verdict): verdict.outcome for verdict in verdicts},
    )
