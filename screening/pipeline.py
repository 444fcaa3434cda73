"""The whole method on one screen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from screening.capture.lot_storage import storage_of_lots
from screening.capture.plan import plan_capture
from screening.capture.zones import find_infiltration_zones
from screening.depressions.assess import storm_columns
from screening.depressions.find import label_low_spots
from screening.depressions.hierarchy import build_depression_hierarchy
from screening.depressions.ponding import pond_storm
from screening.findings.confidence import assess_confidence
from screening.findings.simulation import RunCalls, simulate_block
from screening.findings.summary import measure_lots, measure_off_lot, summarize_lots
from screening.findings.terrain import Routed, Site, check_terrain, lay_site, route_water, study_terrain
from screening.flow.basins import find_basins
from screening.flow.boundary_inflow import shed_inflow
from screening.flow.catchments import trace_catchments
from screening.flow.paths import trace_flow_paths
from screening.flow.routing import route_flow, view_window
from screening.interception.find import find_interception, no_interception
from screening.models import (
    Block,
    BlockResult,
    Capture,
    InfiltrationZones,
    Interception,
    Note,
    Rain,
    Realisation,
    Storm,
    StormFindings,
    TerrainFindings,
    Verdict,
    WindowView,
    merge_notes,
)
from screening.schema.columns import plain_text_columns
from screening.schema.criteria import Criteria
from screening.storm.design_storm import design_storm
from screening.structures.doors import assess_doors
from screening.structures.exposure import rank_structures
from screening.structures.wall_water import storm_depths
from screening.terrain.surface import build_surface

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd


@dataclass(frozen=True, kw_only=True, eq=False)
class Remedies:
    """What can be done with the water: ground that may take it, storage in it, lines across driveways."""

    zones: InfiltrationZones
    capture: Capture
    interception: Interception


@dataclass(frozen=True, kw_only=True, eq=False)
class Judged:
    """The ground with its confidence under elevation error, and the verdicts on it."""

    terrain: TerrainFindings
    catchments: gpd.GeoDataFrame
    lots: pd.DataFrame
    verdicts: tuple[Verdict, ...]
    structures: gpd.GeoDataFrame
    notes: tuple[Note, ...]


@plain_text_columns()
def screen_block(
    block: Block,
    *,
    criteria: Criteria,
    rain: Rain,
    further_rains: Sequence[Rain] = (),
    run_calls: RunCalls = map,
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
    run_calls
        Calls a function with each number of a range, in any order, and gives what it returns in theirs: the
        realisations of elevation error may be shared out to other processes.
    in_brief
        Leave out what tables of lots, structures and checks do not need: outlines of low spots and contributing areas,
        and edges of driveways and lines across them. What is in those tables stays the same.

    Returns
    -------
    All findings; reports read nothing else.
    """
    site = lay_site(block, criteria=criteria)
    storms = [design_storm(block, site.surface, rain=each, criteria=criteria) for each in (rain, *further_rains)]
    routed = route_water(block, site.surface, site.crossings, rain=rain, criteria=criteria)
    terrain = study_terrain(block, site, routed, storms, criteria=criteria, in_brief=in_brief)
    doors = assess_doors(block, site.surface, site.walls, terrain, storms[0], criteria=criteria)
    remedies = find_remedies(block, site, terrain, storms[0], criteria=criteria, in_brief=in_brief)
    realisations = simulate_block(block, site, routed, run_calls=run_calls, criteria=criteria)
    judged = judge_terrain(
        block, site, terrain, remedies, storms[0], realisations, criteria=criteria, with_outlines=not in_brief
    )
    return BlockResult(
        block=block,
        criteria=criteria,
        surface=site.surface,
        flow=terrain.flow,
        depressions=judged.terrain.depressions,
        storm=storms[0],
        ponding=terrain.ponding,
        structures=judged.structures,
        structure_sides=terrain.exposure.sides,
        inflow_points=terrain.exposure.inflow_points,
        doors=doors,
        driveways=judged.terrain.driveways,
        driveway_study=terrain.driveway_study,
        zones=remedies.zones,
        capture=remedies.capture,
        interception=remedies.interception,
        flow_paths=trace_flow_paths(terrain.flow, terrain.runoff_through_m3, block, criteria=criteria),
        catchments=judged.catchments,
        verdicts=judged.verdicts,
        summary=summarize(block, storms[0], judged, remedies, criteria=criteria),
        notes=merge_notes(*_notes_of(block, site, storms[0], terrain), judged.notes),
        further_storms=tuple(pour_further(block, site, routed, other, criteria=criteria) for other in storms[1:]),
    )


def find_remedies(
    block: Block, site: Site, terrain: TerrainFindings, storm: Storm, *, criteria: Criteria, in_brief: bool = False
) -> Remedies:
    """Find what can be done with the water; in brief without lines across driveways."""
    surface, walls = site.surface, site.walls
    zones = find_infiltration_zones(block, surface, terrain.depressions, criteria=criteria)
    capture = plan_capture(block, surface, walls, terrain, storm, zones, criteria=criteria)
    if in_brief:
        return Remedies(zones=zones, capture=capture, interception=no_interception(block))
    lines = find_interception(
        block=block,
        surface=surface,
        walls=walls,
        terrain=terrain,
        storm=storm,
        concentration=terrain.concentration,
        zones=zones,
        criteria=criteria,
    )
    return Remedies(zones=zones, capture=capture, interception=lines)


def judge_terrain(
    block: Block,
    site: Site,
    terrain: TerrainFindings,
    remedies: Remedies,
    storm: Storm,
    realisations: list[Realisation],
    *,
    criteria: Criteria,
    with_outlines: bool,
) -> Judged:
    """Check what was found, and say in how many realisations of elevation error it holds."""
    catchments = trace_catchments(terrain.flow, block, with_outlines=with_outlines)
    lots = measure_lots(
        block,
        site.surface,
        terrain.flow,
        storm,
        runoff_through_m3=terrain.runoff_through_m3,
        catchments=catchments,
        off_lot_area_m2=measure_off_lot(block, terrain.flow, catchments),
        zones=remedies.zones,
    )
    verdicts = check_terrain(
        block, lots=lots, structures=terrain.exposure.structures, driveways=terrain.driveways, criteria=criteria
    )
    doubted, verdicts, notes = assess_confidence(terrain, verdicts, realisations, criteria=criteria)
    return Judged(
        terrain=doubted,
        catchments=catchments,
        lots=lots,
        verdicts=verdicts,
        structures=rank_structures(doubted.exposure.structures, verdicts),
        notes=notes,
    )


def summarize(
    block: Block,
    storm: Storm,
    judged: Judged,
    remedies: Remedies,
    *,
    criteria: Criteria,
) -> gpd.GeoDataFrame:
    """Gather the findings of each lot: see `findings.summary.summarize_lots`."""
    terrain, capture = judged.terrain, remedies.capture
    return summarize_lots(
        block,
        terrain.depressions,
        storm,
        lots=judged.lots,
        arriving=terrain.peaks_onto_lots,
        structures=judged.structures,
        driveways=terrain.driveways,
        storage=storage_of_lots(remedies.zones, capture.points, capture.routes, capture.options),
        verdicts=judged.verdicts,
        criteria=criteria,
    )


def _notes_of(block: Block, site: Site, storm: Storm, terrain: TerrainFindings) -> tuple[tuple[Note, ...], ...]:
    noted = (
        block,
        site.surface,
        terrain.flow,
        terrain.flow.inflow,
        storm,
        terrain.concentration,
        terrain.peaks_onto_lots,
    )
    return tuple(each.notes for each in noted)


def pour_further(block: Block, site: Site, routed: Routed, storm: Storm, *, criteria: Criteria) -> StormFindings:
    """Pour one more storm on ground that is routed already.

    Returns
    -------
    Its standing water, and what it does to each low spot and each structure.
    """
    flow, low_spots = routed.flow, routed.low_spots
    coming_in = shed_inflow(flow.inflow, storm.rain, criteria=criteria)
    ponding = pond_storm(flow, routed.hierarchy, routed.basins, low_spots, storm, inflow=coming_in)
    changed = low_spots.found[["low_spot_id"]].assign(**storm_columns(low_spots, ponding))
    structures = storm_depths(block, site.walls, low_spots, ponding)
    return StormFindings(storm=storm, ponding=ponding, low_spots=changed, structures=structures)


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
