"""The whole method on one screen."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Sequence
from functools import partial

import pandas as pd

from screening.capture.lot_storage import storage_of_lots
from screening.capture.plan import plan_capture
from screening.capture.zones import find_infiltration_zones
from screening.depressions.find import find_depressions, label_low_spots, low_spot_depths
from screening.depressions.hierarchy import build_depression_hierarchy
from screening.depressions.ponding import add_storm, pond_storm
from screening.driveways.study import leave_out_edges, shed_driveways, study_driveways
from screening.findings.checks import evaluate_checks
from screening.findings.confidence import assess_confidence, keep_findings, low_spot_cells
from screening.findings.summary import measure_lots, measure_off_lot, summarize_lots
from screening.flow.basins import find_basins
from screening.flow.boundary_crossings import close_edge, find_crossings
from screening.flow.boundary_inflow import find_inflow, shed_inflow
from screening.flow.catchments import measure_catchments, trace_catchments
from screening.flow.paths import runoff_through, trace_flow_paths
from screening.flow.routing import add_inflow, route_flow, view_window
from screening.interception.find import find_interception, no_interception
from screening.models import (
    F32,
    I64,
    Block,
    BlockResult,
    Concentration,
    Crossings,
    Exposure,
    GroundFindings,
    Inflow,
    Rain,
    Realisation,
    Storm,
    StormFindings,
    Surface,
    Verdict,
    WindowView,
    merge_notes,
)
from screening.schema.codes.verdicts import SubjectKind
from screening.schema.columns import plain_text_columns
from screening.schema.criteria import Criteria
from screening.storm.design_storm import design_storm
from screening.storm.peaks import concentrate, peaks_of_zones, peaks_onto_lots
from screening.structures.doors import assess_doors
from screening.structures.exposure import add_rains_and_peaks, assess_exposure, rank_structures, storm_depths
from screening.structures.walls import Walls, find_walls
from screening.terrain.elevation_error import elevation_error_m
from screening.terrain.surface import build_surface

Spread = Callable[[Callable[[int], Realisation], Iterable[int]], Iterable[Realisation]]


@plain_text_columns()
def screen_block(
    block: Block,
    *,
    criteria: Criteria,
    rain: Rain,
    further_rains: Sequence[Rain] = (),
    spread: Spread = map,
    in_brief: bool = False,
) -> BlockResult:
    """Screen the lots of a block.

    Parameters
    ----------
    block
        A window of elevation with its lots and layers.
    criteria
        Every threshold.
    rain
        The storm's rain.
    further_rains
        Of storms that are poured on the same routed ground, for comparison, and at garages: verdicts and other
        tables are the first one's.
    spread
        Calls a function with each number of a range, in any order, and gives what it returns in theirs: the
        realisations of elevation error may be shared out to other processes.
    in_brief
        Leave out what tables of lots, structures and checks do not need: outlines of low spots and contributing areas,
        and edges of driveways and lines across them. What is in those tables stays the same.

    Returns
    -------
    All findings; reports read nothing else.
    """
    open_surface = build_surface(block, criteria=criteria)
    crossings = find_crossings(block, open_surface, criteria=criteria)
    surface = close_edge(block, open_surface, crossings, criteria=criteria)
    storm, *others = (design_storm(block, surface, rain=each, criteria=criteria) for each in (rain, *further_rains))
    walls = find_walls(block, surface)
    ground = study_ground(block, surface, walls, storm, crossings, criteria=criteria, with_outlines=not in_brief)
    concentration = concentrate(surface, ground.flow, storm, criteria=criteria)
    exposure = add_peaks(block, walls, ground, storm, concentration, criteria=criteria)
    driveways, driveway_study = (
        leave_out_edges(block, ground.driveways)
        if in_brief
        else shed_driveways(
            block=block,
            surface=surface,
            flow=ground.flow,
            depressions=ground.depressions,
            driveways=ground.driveways,
            storms=(storm, *others),
            concentration=concentration,
            criteria=criteria,
        )
    )
    ground = dataclasses.replace(ground, exposure=exposure, driveways=driveways)
    doors = assess_doors(
        block=block,
        surface=surface,
        walls=walls,
        flow=ground.flow,
        depressions=ground.depressions,
        storm=storm,
        ponding=ground.ponding,
        runoff_through_m3=ground.runoff_through_m3,
        criteria=criteria,
    )
    zones = find_infiltration_zones(block, surface, ground.depressions, criteria=criteria)
    capture = plan_capture(block, surface, walls, ground, storm, zones, criteria=criteria)
    zones = dataclasses.replace(zones, table=capture.zones)
    interception = (
        no_interception(block)
        if in_brief
        else find_interception(
            block=block,
            surface=surface,
            walls=walls,
            ground=ground,
            storm=storm,
            concentration=concentration,
            zones=zones,
            criteria=criteria,
        )
    )
    catchments = trace_catchments(ground.flow, block, with_outlines=not in_brief)
    off_lot = measure_off_lot(block, ground.flow, catchments)
    lots = measure_lots(
        block,
        surface,
        ground.flow,
        storm,
        runoff_through_m3=ground.runoff_through_m3,
        catchments=catchments,
        off_lot_area_m2=off_lot,
        zones=zones,
    )
    verdicts = check_ground(block, ground, lots, criteria=criteria)
    realise = partial(
        simulate_findings,
        block=block,
        walls=walls,
        storm=storm,
        filled_elev_m=ground.flow.filled_elev_m,
        crossings=crossings,
        inflow=ground.flow.inflow,
        cells=low_spot_cells(ground.depressions),
        criteria=criteria,
    )
    realisations = list(spread(realise, range(criteria.findings.n_realisations)))
    ground, verdicts, error_notes = assess_confidence(ground, verdicts, realisations, criteria=criteria)
    structures = rank_structures(ground.exposure.structures, verdicts)
    arriving = peaks_onto_lots(block, ground.flow, storm, concentration, criteria=criteria)
    summary = summarize_lots(
        block,
        ground.depressions,
        storm,
        lots=lots,
        arriving=arriving,
        structures=structures,
        driveways=ground.driveways,
        storage=storage_of_lots(zones, capture.points, capture.routes, capture.options),
        verdicts=verdicts,
        criteria=criteria,
    )
    flow_paths = trace_flow_paths(ground.flow, storm, block, criteria=criteria)
    further = tuple(pour_further(block, surface, walls, ground, other, criteria=criteria) for other in others)
    noted = (block, surface, ground.flow, ground.flow.inflow, storm, concentration, arriving)
    notes = merge_notes(*(each.notes for each in noted), error_notes)
    return BlockResult(
        block=block,
        criteria=criteria,
        surface=surface,
        flow=ground.flow,
        depressions=ground.depressions,
        storm=storm,
        ponding=ground.ponding,
        structures=structures,
        structure_sides=ground.exposure.sides,
        inflow_points=ground.exposure.inflow_points,
        doors=doors,
        driveways=ground.driveways,
        zones=zones,
        capture=capture,
        interception=interception,
        flow_paths=flow_paths,
        catchments=catchments,
        verdicts=verdicts,
        summary=summary,
        notes=notes,
        further_storms=further,
        driveway_study=driveway_study,
    )


def add_peaks(
    block: Block,
    walls: Walls,
    ground: GroundFindings,
    storm: Storm,
    concentration: Concentration,
    *,
    criteria: Criteria,
) -> Exposure:
    """Add to exposure what needs travel times: peak flows at the walls, and the threshold rainfalls.

    Parameters
    ----------
    block, walls, ground, storm, concentration
        Of the same window.
    criteria
        Every threshold.
    """
    found = ground.exposure
    at_sides = peaks_of_zones(
        found.side_start,
        found.side_cells,
        flow=ground.flow,
        storm=storm,
        concentration=concentration,
        criteria=criteria,
    )
    return add_rains_and_peaks(found, walls, ground.ponding, at_sides, storm, criteria=criteria)


def check_ground(
    block: Block, ground: GroundFindings, lots: pd.DataFrame, *, criteria: Criteria, is_simulation: bool = False
) -> tuple[Verdict, ...]:
    """Make the checks of the lots, and of what was found to stand on them."""
    tables = {
        SubjectKind.LOT: lots,
        SubjectKind.STRUCTURE: ground.exposure.structures,
        SubjectKind.DRIVEWAY: ground.driveways,
    }
    return evaluate_checks(block, tables=tables, criteria=criteria, is_simulation=is_simulation)


def study_ground(
    block: Block,
    surface: Surface,
    walls: Walls,
    storm: Storm,
    crossings: Crossings | None,
    *,
    criteria: Criteria,
    inflow: Inflow | None = None,
    is_simulation: bool = False,
    with_outlines: bool = True,
) -> GroundFindings:
    """Find what follows from the elevation and a storm: all that is simulated under elevation error.

    Parameters
    ----------
    block, surface, walls, storm, crossings
        Of the same window.
    criteria
        Every threshold.
    inflow
        What comes from beyond the window, where it is known from the same ground without its error.
    is_simulation
        Leave out what confidence does not need: outlines of low spots, and threshold rainfalls.
    with_outlines
        Outline the low spots.
    """
    basins = find_basins(surface, criteria=criteria)
    local = route_flow(surface, basins, criteria=criteria)
    coming_in = inflow or find_inflow(block, surface, local, crossings, criteria=criteria, rain=storm.rain)
    flow = add_inflow(local, coming_in, surface, criteria=criteria)
    hierarchy = build_depression_hierarchy(surface, basins, criteria=criteria)
    in_full = not is_simulation
    outlined = in_full and with_outlines
    found = find_depressions(surface, flow, hierarchy, block, criteria=criteria, with_outlines=outlined)
    runoff = runoff_through(flow, storm)
    ponding = pond_storm(surface, flow, hierarchy, found, storm, criteria=criteria, with_rains=in_full)
    depressions = add_storm(found, ponding, storm)
    exposure = assess_exposure(
        block=block,
        surface=surface,
        walls=walls,
        flow=flow,
        depressions=depressions,
        storm=storm,
        ponding=ponding,
        runoff_through_m3=runoff,
        criteria=criteria,
    )
    driveways = study_driveways(block, surface, flow, runoff_through_m3=runoff, criteria=criteria)
    return GroundFindings(
        flow=flow,
        depressions=depressions,
        ponding=ponding,
        runoff_through_m3=runoff,
        exposure=exposure,
        driveways=driveways,
        hierarchy=hierarchy,
    )


def pour_further(
    block: Block, surface: Surface, walls: Walls, ground: GroundFindings, storm: Storm, *, criteria: Criteria
) -> StormFindings:
    """Pour one more storm on ground that is routed already.

    Parameters
    ----------
    block, surface, walls, ground
        Of the same window.
    storm
        That storm.
    criteria
        Every threshold.

    Returns
    -------
    Its standing water, and what it does to each low spot and each structure.
    """
    coming_in = shed_inflow(ground.flow.inflow, storm.rain, criteria=criteria)
    flow = dataclasses.replace(ground.flow, inflow=coming_in)
    ponding = pond_storm(
        surface, flow, ground.hierarchy, ground.depressions, storm, criteria=criteria, with_rains=False
    )
    depressions = add_storm(ground.depressions, ponding, storm)
    low_spots = depressions.table[["low_spot_id", "inflow_m3", "ponded_m3", "overflow_m3", "storm_depth_m"]]
    structures = storm_depths(block, walls, depressions, ponding)
    return StormFindings(storm=storm, ponding=ponding, low_spots=pd.DataFrame(low_spots), structures=structures)


def simulate_findings(
    number: int,
    *,
    block: Block,
    walls: Walls,
    storm: Storm,
    filled_elev_m: F32,
    crossings: Crossings | None,
    inflow: Inflow,
    cells: I64,
    criteria: Criteria,
) -> Realisation:
    """Simulate, on the ground with one realisation of its error, what depends on the elevation.

    Outlines, flow paths and infiltration are left out: confidence does not need them.

    Parameters
    ----------
    number
        Of the realisation, from 0.
    block, walls, storm
        Of the same window: neither walls nor the storm's runoff depend on the elevation.
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
    block = dataclasses.replace(block, elev_m=block.elev_m + error_m)
    surface = close_edge(block, build_surface(block, criteria=criteria), crossings, criteria=criteria)
    ground = study_ground(block, surface, walls, storm, crossings, criteria=criteria, inflow=inflow, is_simulation=True)
    catchments = measure_catchments(ground.flow, block)
    lots = catchments.assign(off_lot_area_m2=measure_off_lot(block, ground.flow, catchments))
    verdicts = check_ground(block, ground, lots, criteria=criteria, is_simulation=True)
    return keep_findings(ground, verdicts, by_chance, cells=cells)


def look_around(block: Block, *, criteria: Criteria) -> WindowView:
    """Look at what the window shows of its lots, and what it may hide: the first part of the method.

    Returns
    -------
    The sides from which unseen water may come, and those through which water leaves.
    """
    surface = build_surface(block, criteria=criteria)
    basins = find_basins(surface, criteria=criteria)
    flow = route_flow(surface, basins, criteria=criteria)
    hierarchy = build_depression_hierarchy(surface, basins, criteria=criteria)
    return view_window(surface, flow, hierarchy, label_low_spots(surface, flow, criteria=criteria), block)
