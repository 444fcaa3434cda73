"""The whole method on one screen."""

from __future__ import annotations

from screening.checks import evaluate_checks
from screening.criteria import Criteria
from screening.depressions import find_depressions, label_low_spots
from screening.doors import assess_doors
from screening.driveways import study_driveways
from screening.exposure import assess_exposure, rank_structures
from screening.flow import add_inflow, route_flow, runoff_through, trace_catchments, trace_flow_paths, view_window
from screening.hierarchy import build_depression_hierarchy
from screening.infiltration import find_infiltration_zones
from screening.inflow import find_inflow
from screening.models import Block, BlockResult, Rain, WindowView, merge_notes
from screening.ponding import add_storm, pond_storm
from screening.storms import design_storm
from screening.summary import measure_off_lot, summarize_lots
from screening.surface import build_surface
from screening.walls import find_walls


def screen_block(block: Block, *, criteria: Criteria, rain: Rain) -> BlockResult:
    """Screen the lots of a block.

    Parameters
    ----------
    block
        A window of elevation with its lots and layers.
    criteria
        Every threshold.
    rain
        The storm's rain.

    Returns
    -------
    All findings; reports read nothing else.
    """
    surface = build_surface(block, criteria=criteria)
    local = route_flow(surface, criteria=criteria)
    inflow = find_inflow(block, surface, local, criteria=criteria, rain=rain)
    flow = add_inflow(local, inflow, criteria=criteria)
    hierarchy = build_depression_hierarchy(surface, criteria=criteria)
    found = find_depressions(surface, flow, hierarchy, block, criteria=criteria)
    storm = design_storm(block, surface, rain=rain, criteria=criteria)
    runoff = runoff_through(flow, storm)
    ponding = pond_storm(surface, flow, hierarchy, found, storm, criteria=criteria)
    depressions = add_storm(found, ponding)
    walls = find_walls(block, surface)
    exposure = assess_exposure(
        block, surface, walls, flow, depressions, storm, ponding, runoff_through_m3=runoff, criteria=criteria
    )
    doors = assess_doors(
        block, surface, walls, flow, depressions, storm, ponding, runoff_through_m3=runoff, criteria=criteria
    )
    driveways = study_driveways(block, surface, flow, runoff_through_m3=runoff, criteria=criteria)
    zones = find_infiltration_zones(block, surface, depressions, criteria=criteria)
    flow_paths = trace_flow_paths(flow, storm, block, criteria=criteria)
    catchments = trace_catchments(flow, block)
    off_lot = measure_off_lot(block, flow, catchments)
    verdicts = evaluate_checks(
        block,
        catchments=catchments,
        off_lot_area_m2=off_lot,
        structures=exposure.structures,
        driveways=driveways,
        zones=zones,
        criteria=criteria,
    )
    structures = rank_structures(exposure.structures, verdicts)
    summary = summarize_lots(
        block,
        surface,
        flow,
        depressions,
        storm,
        runoff_through_m3=runoff,
        catchments=catchments,
        off_lot_area_m2=off_lot,
        structures=structures,
        driveways=driveways,
        zones=zones,
        verdicts=verdicts,
    )
    notes = merge_notes(block.notes, surface.notes, inflow.notes, storm.notes)
    return BlockResult(
        block,
        criteria,
        surface,
        flow,
        depressions,
        storm,
        ponding,
        structures,
        exposure.sides,
        exposure.wall_arrivals,
        doors,
        driveways,
        zones,
        flow_paths,
        catchments,
        verdicts,
        summary,
        notes,
    )


def look_around(block: Block, *, criteria: Criteria) -> WindowView:
    """Look at what the window shows of its lots, and what it may hide: the first part of the method.

    Returns
    -------
    The sides from which unseen water may come, and those through which water leaves.
    """
    surface = build_surface(block, criteria=criteria)
    flow = route_flow(surface, criteria=criteria)
    return view_window(flow, label_low_spots(surface, flow, criteria=criteria), block)
