"""The ground of a block stage by stage: what a screening and the simulations of its error have in common."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, partial

import pandas as pd

from screening.depressions.assess import assess_depressions
from screening.depressions.find import find_low_spots
from screening.depressions.hierarchy import build_depression_hierarchy
from screening.depressions.ponding import pond_storm
from screening.depressions.spill_basins import SpillBasins, build_spill_basins
from screening.depressions.threshold_rainfall import find_threshold_rains
from screening.driveways.study import study_driveways
from screening.findings.checks import evaluate_checks
from screening.flow.basins import find_basins
from screening.flow.boundary_crossings import close_edge, find_crossings
from screening.flow.boundary_inflow import find_inflow
from screening.flow.paths import runoff_through
from screening.flow.routing import add_inflow, route_flow
from screening.models import (
    Block,
    Crossings,
    DepressionHierarchy,
    FlowField,
    Inflow,
    LowSpots,
    Rain,
    Storm,
    Surface,
    TerrainFindings,
    Verdict,
)
from screening.schema.codes.verdicts import SubjectKind
from screening.schema.criteria import Criteria
from screening.storm.concentration import concentrate
from screening.storm.graphical_sums import graphical_sums
from screening.storm.peaks import entering_cells, peaks_of_zones
from screening.structures.exposure import assess_exposure
from screening.structures.walls import Walls, find_walls
from screening.terrain.surface import build_surface


@dataclass(frozen=True, kw_only=True, eq=False)
class Site:
    """The surface of a block, its walls, and where coarser ground sends water in; None = none is known."""

    surface: Surface
    walls: Walls
    crossings: Crossings | None


@dataclass(frozen=True, kw_only=True, eq=False)
class Routed:
    """Where water goes on a surface, and where it stands: no storm changes any of it but what flows in."""

    surface: Surface
    flow: FlowField
    hierarchy: DepressionHierarchy
    low_spots: LowSpots

    @cached_property
    def basins(self) -> SpillBasins:
        """The low spots as water fills them; a simulation of elevation error never asks."""
        return build_spill_basins(self.surface, self.flow, self.hierarchy)


def lay_site(block: Block, *, criteria: Criteria) -> Site:
    """Build the surface of a block, closed where coarser ground sends water in, and find its walls."""
    open_surface = build_surface(block, criteria=criteria)
    crossings = find_crossings(block, open_surface, criteria=criteria)
    surface = close_edge(block, open_surface, crossings, criteria=criteria)
    return Site(surface=surface, walls=find_walls(block, surface), crossings=crossings)


def route_water(
    block: Block,
    surface: Surface,
    crossings: Crossings | None,
    *,
    criteria: Criteria,
    rain: Rain | None = None,
    inflow: Inflow | None = None,
) -> Routed:
    """Route water over a surface, and find its low spots.

    Parameters
    ----------
    block, surface, crossings
        Of the same window.
    criteria
        Every threshold.
    rain
        Of the storm, for what comes in from beyond the window.
    inflow
        What comes in, where it is known from the same ground without its error.
    """
    basins = find_basins(surface, criteria=criteria)
    local = route_flow(surface, basins, criteria=criteria)
    coming_in = inflow or find_inflow(block, surface, local, crossings, criteria=criteria, rain=rain)
    flow = add_inflow(local, coming_in, surface, criteria=criteria)
    hierarchy = build_depression_hierarchy(surface, basins, criteria=criteria)
    low_spots = find_low_spots(surface, flow, hierarchy, criteria=criteria)
    return Routed(surface=surface, flow=flow, hierarchy=hierarchy, low_spots=low_spots)


def study_terrain(
    block: Block,
    site: Site,
    routed: Routed,
    storms: Sequence[Storm],
    *,
    criteria: Criteria,
    in_brief: bool = False,
) -> TerrainFindings:
    """Find what follows from the elevation and a storm.

    Parameters
    ----------
    block, site, routed
        Of the same window.
    storms
        The screened storm first; the others at garages alone.
    criteria
        Every threshold.
    in_brief
        As for `screen_block`.
    """
    surface, walls, flow, low_spots, storm = site.surface, site.walls, routed.flow, routed.low_spots, storms[0]
    through = runoff_through(flow, storm)
    ponding = pond_storm(flow, routed.hierarchy, routed.basins, low_spots, storm, inflow=flow.inflow)
    thresholds = find_threshold_rains(surface, routed.basins, low_spots, storm, inflow=flow.inflow, criteria=criteria)
    depressions = assess_depressions(
        block,
        surface,
        flow,
        low_spots,
        storm=storm,
        ponding=ponding,
        thresholds=thresholds,
        with_outlines=not in_brief,
    )
    concentration = concentrate(surface, flow, storm, criteria=criteria)
    sums = graphical_sums(flow, storm)
    gathered = partial(
        peaks_of_zones, flow=flow, storm=storm, concentration=concentration, criteria=criteria, sums=sums
    )
    exposure = assess_exposure(
        block,
        surface,
        walls,
        flow,
        low_spots,
        storm=storm,
        ponding=ponding,
        thresholds=thresholds,
        peaks=gathered(*walls.cells_by_side()),
        runoff_through_m3=through,
        criteria=criteria,
    )
    driveways, study = study_driveways(
        block,
        surface,
        flow,
        low_spots,
        storms=storms,
        runoff_through_m3=through,
        concentration=concentration,
        criteria=criteria,
        in_brief=in_brief,
    )
    return TerrainFindings(
        flow=flow,
        depressions=depressions,
        ponding=ponding,
        runoff_through_m3=through,
        concentration=concentration,
        peaks_onto_lots=gathered(*entering_cells(block, flow)),
        exposure=exposure,
        driveways=driveways,
        driveway_study=study,
    )


def check_terrain(
    block: Block,
    *,
    lots: pd.DataFrame,
    structures: pd.DataFrame,
    driveways: pd.DataFrame,
    criteria: Criteria,
    is_simulation: bool = False,
) -> tuple[Verdict, ...]:
    """Make the checks of the lots, and of what was found to stand on them."""
    tables = {SubjectKind.LOT: lots, SubjectKind.STRUCTURE: structures, SubjectKind.DRIVEWAY: driveways}
    return evaluate_checks(block, tables=tables, criteria=criteria, is_simulation=is_simulation)
