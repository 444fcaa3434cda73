"""Which layers the map has, in the order of their switches."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from screening.models import BlockResult
from screening.report import styles
from screening.report.findings import is_missing
from screening.report.map.layers import (
    LayerKind,
    Outlines,
    PageLayer,
    Row,
    make_layer,
    relate_to_lots,
    relate_to_structures,
)
from screening.report.styles import LegendKey, Style
from screening.schema.columns import TABLES, Column
from screening.schema.columns.shared import BEYOND
from screening.structures.wording import exposure_words
from screening.units import UnitSystem

if TYPE_CHECKING:
    import geopandas as gpd


LAYER_GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Buildings and driveways",
     ("structures", "structure_sides", "wall_arrivals", "doors", "driveways", "driveway_edges",
      "driveway_arrows", "driveway_low_points", "others")),
    ("Water", ("flow_paths", "overflow_paths", "low_spots", "storm_water")),
    ("Where water could be caught, and go",
     ("interception_lines", "drain_outlets", "collection_points", "collection_routes", "infiltration_zones")),
    ("Lots and ground",
     ("lots", "contributing_areas", "roads", "soils", "drains", "barriers", "wells", "septic",
      "wetlands", "utilities", "trees", "relief", "basemap")),
)  # fmt: skip
"""Headings of the switches, and what stands under each; a layer that is under none stands under the last."""


def build_layers(
    result: BlockResult, units: UnitSystem, *, classes_in: UnitSystem | None = None, outlines: Outlines | None = None
) -> list[PageLayer]:
    """Make the layers of a result; those without features are left out, but for the lots.

    Parameters
    ----------
    result
        What was found.
    units
        What readers see.
    classes_in
        Units in which the limits of classes are round; `units` by default.
    outlines
        As for `layers.make_layer`.
    """
    block, classes_in = result.block, classes_in or units
    beyond = block.structures[block.structures["lot_id"] == ""]
    pairs = [
        (_structures(), _in_units(result, units)),
        (_SIDES, result.structure_sides),
        (_ARRIVALS, result.wall_arrivals),
        (_DOORS, result.doors),
        (_driveways(result.criteria.driveway_to_structure_flag_frac), result.driveways),
        (_EDGES, result.driveway_study.edges),
        (_DRIVEWAY_ARROWS, _drawn(result.driveway_study.arrows, 0.7 * result.criteria.driveway_arrow_spacing_m)),
        (_LOW_POINTS, result.driveway_study.low_points),
        (_flow_paths(units, classes_in), result.flow_paths),
        (_OVERFLOWS, result.ponding.overflow_paths),
        (_low_spots(units, classes_in), result.depressions.table),
        (_CATCHMENTS, result.catchments),
        (_ZONES, result.zones.table),
        (_ROUTES, result.capture.routes),
        (_POINTS, result.capture.points),
        (_LINES, result.interception.lines),
        (_OUTLETS, result.interception.outlets),
        (_LOTS, result.summary),
        (_context("others", "Structures beyond the chosen lots", "Structure", styles.OTHER_STYLES,
                  "stands as a wall to flow", ("structure_id", "kind")), beyond),
        (_context("roads", "Roads", "Road", styles.ROAD_STYLES, "road surface"), block.roads),
        (_context("soils", "Soil map units", "Soil group", styles.SOIL_STYLES,
                  "edge of a unit, with its group", ("hsg", "mukey"), is_on=False), block.soils),
        (_context("drains", "Drains and culverts given", "Drain", styles.DRAIN_STYLES, "drain or culvert",
                  ("drain_id", "kind")), block.drains),
        (_context("barriers", "Barriers given", "Barrier", styles.BARRIER_STYLES, "curb, wall or berm",
                  ("barrier_id", "kind")), block.barriers),
        (_context("wells", "Wells", "Well", styles.WELL_STYLES, "well"), block.wells),
        (_context("septic", "Septic fields", "Septic field", styles.SEPTIC_STYLES, "septic field"),
         block.septic),
        (_context("wetlands", "Wetlands", "Wetland", styles.WETLAND_STYLES, "wetland or open water"), block.wetlands),
        (_context("utilities", "Buried utilities given", "Utility", styles.UTILITY_STYLES,
                  "buried utility; others may run where none is drawn"), block.utilities),
        (_context("trees", "Ground under trees", "Tree", styles.TREE_STYLES, "ground under trees", is_on=False),
         block.trees),
    ]  # fmt: skip
    if result.flow.context_area_m2 is None:
        pairs = [(_without_beyond(kind), table) for kind, table in pairs]
    half_cell_m = block.grid.cell_m / 2
    made = [make_layer(kind, table, half_cell_m=half_cell_m, units=units, outlines=outlines) for kind, table in pairs]
    relate_to_lots(made)
    relate_to_structures(made)
    return [layer for layer in made if layer.features or layer.kind.key == "lots"]


def _without_beyond(kind: LayerKind) -> LayerKind:
    """Leave out the column that says what comes from beyond the window, where nothing does."""
    columns = tuple(column for column in kind.columns if column is not BEYOND)
    return dataclasses.replace(kind, columns=columns)


def _structures() -> LayerKind:
    looks = styles.EXPOSURE_STYLES
    return LayerKind(
        "structures", "Structures by exposure", "Structure", looks, styles.exposure_legend(),
        lambda row: _one_of(row["exposure"], looks), "structure_id", TABLES["structures"], lead_field="exposure_why",
    )  # fmt: skip


def _in_units(result: BlockResult, units: UnitSystem) -> gpd.GeoDataFrame:
    """The structures with their reasons in the units of the reader."""
    why = [exposure_words(row, result.criteria, units) for row in result.structures.to_dict("records")]
    return result.structures.assign(exposure_why=why)


def _driveways(flag_frac: float) -> LayerKind:
    def class_of(row: Row) -> str:
        share = row["to_structure_frac"]
        if is_missing(share):
            return "not assessed"
        return "most" if row["is_flagged"] else "some" if share > flag_frac / 2 else "little"

    return LayerKind(
        "driveways", "Driveways by share of water that meets a wall", "Driveway", styles.DRIVEWAY_STYLES,
        styles.driveway_legend(flag_frac), class_of, "driveway_id", TABLES["driveways"],
    )  # fmt: skip


def _edge_class(row: Row) -> str:
    share = row["share_frac"]
    return "little" if is_missing(share) or share < _LITTLE_FRAC else _one_of(row["receiver"], styles.EDGE_STYLES)


def _drawn(arrows: gpd.GeoDataFrame, length_m: float) -> gpd.GeoDataFrame:
    """Arrows as lines, for a page that knows no arrows: a shaft about each point, and two strokes for its head."""
    import numpy as np
    import shapely

    bearing = np.deg2rad(arrows["direction_deg"].to_numpy(float))
    way = np.column_stack((np.sin(bearing), np.cos(bearing)))
    across = np.column_stack((way[:, 1], -way[:, 0]))
    at = shapely.get_coordinates(arrows.geometry.to_numpy())
    tail, tip = at - way * length_m / 2, at + way * length_m / 2
    wings = [tip - 0.35 * length_m * way + side * 0.22 * length_m * across for side in (-1, 1)]
    head = np.stack((wings[0], tip, wings[1]), axis=1)
    lines = [
        shapely.MultiLineString([np.stack(shaft), point])
        for shaft, point in zip(zip(tail, tip, strict=True), head, strict=True)
    ]
    return arrows.set_geometry(lines, crs=arrows.crs) if len(arrows) else arrows


def _flow_paths(units: UnitSystem, classes_in: UnitSystem) -> LayerKind:
    limits = styles.FLOW_BREAKS_M2[classes_in]

    def class_of(row: Row) -> str:
        return styles.FLOW_CLASSES[sum(row["contributing_area_m2"] >= limit for limit in limits)]

    return LayerKind(
        "flow_paths", "Flow paths by ground that drains to them", "Flow path", styles.FLOW_STYLES,
        styles.flow_legend(units, classes_in), class_of, "flow_path_id", TABLES["flow_paths"], is_from_raster=True,
    )  # fmt: skip


def _low_spots(units: UnitSystem, classes_in: UnitSystem) -> LayerKind:
    return LayerKind(
        "low_spots", "Low spots, depth when full", "Low spot", styles.LOW_SPOT_STYLES,
        styles.depth_legend(units, classes_in), lambda row: "low spot", "low_spot_id", TABLES["low_spots"],
        is_from_raster=True,
    )  # fmt: skip


def _one_of(value: Any, known: Mapping[str, Style]) -> str:
    # The last class is the one that claims least.
    return str(value) if str(value) in known else list(known)[-1]


def _by_rank(row: Row) -> str:
    return "first" if row["line_rank"] == 1 else "other"


_SIDES = LayerKind(
    "structure_sides", "Walls by exposure (zoom in)", "Wall", styles.SIDE_STYLES, styles.side_legend(),
    lambda row: _one_of(row["exposure"], styles.SIDE_STYLES), "side_id", TABLES["structure_sides"],
)  # fmt: skip
_ARRIVALS = LayerKind(
    "wall_arrivals", "Flow paths that meet a wall (zoom in)", "Flow path at a wall", styles.ARRIVAL_STYLES,
    (LegendKey(styles.ARRIVAL_STYLES["arrival"], "where it first touches"),), lambda row: "arrival", "arrival_id",
    TABLES["wall_arrivals"],
)  # fmt: skip
_DOORS = LayerKind(
    "doors", "Doors given (zoom in)", "Door", styles.DOOR_STYLES,
    (LegendKey(styles.DOOR_STYLES["door"], "door, garage door, window well, vent"),), lambda row: "door", "door_id",
    TABLES["doors"],
)  # fmt: skip
_LITTLE_FRAC = 0.01
_EDGES = LayerKind(
    "driveway_edges", "Edges of driveways by what takes their water (zoom in)", "Edge", styles.EDGE_STYLES,
    tuple(LegendKey(style, styles.EDGE_WORDS[name]) for name, style in styles.EDGE_STYLES.items()), _edge_class,
    "edge_id", TABLES["driveway_edges"],
)  # fmt: skip
_DRIVEWAY_ARROWS = LayerKind(
    "driveway_arrows", "Flow directions on driveways (zoom in)", "Flow direction", styles.DRIVEWAY_ARROW_STYLES,
    (LegendKey(styles.DRIVEWAY_ARROW_STYLES["arrow"], "the ground falls this way"),), lambda row: "arrow",
    "driveway_id", TABLES["driveway_arrows"],
)  # fmt: skip
_LOW_POINTS = LayerKind(
    "driveway_low_points", "Low points of driveways (zoom in)", "Low point", styles.LOW_POINT_STYLES,
    tuple(LegendKey(style, name) for name, style in styles.LOW_POINT_STYLES.items()),
    lambda row: _one_of(row["kind"], styles.LOW_POINT_STYLES), "low_point_id", TABLES["driveway_low_points"],
)  # fmt: skip
_CATCHMENTS = LayerKind(
    "contributing_areas", "Ground that drains to the chosen lot", "Contributing area",
    styles.CATCHMENT_STYLES,
    (LegendKey(styles.CATCHMENT_STYLES["contributing"], "shown when a lot is chosen"),),
    lambda row: "contributing", "lot_id", TABLES["contributing_areas"], is_from_raster=True,
)  # fmt: skip
_OVERFLOWS = LayerKind(
    "overflow_paths", "Water that runs over in this storm", "Overflow of", styles.OVERFLOW_STYLES,
    (LegendKey(styles.OVERFLOW_STYLES["overflow"], "from a full low spot to the next"),),
    lambda row: "overflow", "low_spot_id", TABLES["overflow_paths"], is_on=False, is_from_raster=True,
)  # fmt: skip
_ZONES = LayerKind(
    "infiltration_zones", "Infiltration candidates", "Infiltration candidate", styles.ZONE_STYLES,
    tuple(LegendKey(style, name) for name, style in styles.ZONE_STYLES.items()),
    lambda row: _one_of(row["status"], styles.ZONE_STYLES), "zone_id", TABLES["infiltration_zones"],
    is_from_raster=True,
)  # fmt: skip
_ROUTES = LayerKind(
    "collection_routes", "Pipe routes to infiltration candidates, and their overflow", "Pipe route",
    styles.ROUTE_STYLES,
    tuple(LegendKey(style, name) for name, style in styles.ROUTE_STYLES.items()),
    lambda row: _one_of(row["reach"], styles.ROUTE_STYLES), "route_id", TABLES["collection_routes"], is_on=False,
)  # fmt: skip
_POINTS = LayerKind(
    "collection_points", "Places where water can be caught", "Collection point", styles.COLLECTION_STYLES,
    (LegendKey(styles.COLLECTION_STYLES["point"], "lowest ground there, or a downspout"),), lambda row: "point",
    "point_id", TABLES["collection_points"], is_on=False,
)  # fmt: skip
_LINES = LayerKind(
    "interception_lines", "Lines that keep a driveway's water from walls", "Interception line", styles.LINE_STYLES,
    (LegendKey(styles.LINE_STYLES["first"], "first choice of its driveway"),
     LegendKey(styles.LINE_STYLES["other"], "compared with it")), _by_rank, "line_id",
    TABLES["interception_lines"],
)  # fmt: skip
_OUTLETS = LayerKind(
    "drain_outlets", "Pipes from those lines to an outfall by gravity", "Pipe of", styles.OUTLET_STYLES,
    (LegendKey(styles.OUTLET_STYLES["first"], "of the first choice"),
     LegendKey(styles.OUTLET_STYLES["other"], "of the others")), _by_rank, "line_id",
    TABLES["drain_outlets"],
)  # fmt: skip
_LOTS = LayerKind(
    "lots", "Lots", "Lot", styles.LOT_STYLES, (LegendKey(styles.LOT_STYLES["lot"], "lot line"),),
    lambda row: "lot", "lot_id", TABLES["summary"], lead_field="main_finding",
)  # fmt: skip
_CONTEXT_COLUMNS = {
    "structure_id": "Structure",
    "kind": "Kind",
    "hsg": "Hydrologic soil group",
    "mukey": "Map unit key",
    "drain_id": "Drain",
    "barrier_id": "Barrier",
}


def _context(
    key: str, label: str, noun: str, looks: dict[str, Style], words: str, fields: tuple[str, ...] = (),
    *, is_on: bool = True,
) -> LayerKind:  # fmt: skip
    only, style = next(iter(looks.items()))
    columns = tuple(Column(name, "text", "", _CONTEXT_COLUMNS[name], "") for name in fields)
    return LayerKind(
        key, label, noun, looks, (LegendKey(style, words),), lambda row: only, fields[0] if fields else "",
        columns, is_on,
    )  # fmt: skip
