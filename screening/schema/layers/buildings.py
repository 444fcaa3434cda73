"""Layers of buildings and driveways."""

from __future__ import annotations

from screening.schema import styles
from screening.schema.layers.declaring import LayerGroup, Reader, ResultLayer, Row, class_in, named, one_line
from screening.schema.styles import LegendKey, Style

_LITTLE_FRAC = 0.01
"""An edge that takes less of a driveway's water than this is drawn thin."""


def _driveway_class(row: Row, reader: Reader) -> str:
    share = row["to_structure_frac"]
    if share is None or share != share:
        return "not assessed"
    is_some = share > reader.criteria.driveways.driveway_to_structure_flag_frac / 2
    return "most" if row["is_flagged"] else "some" if is_some else "little"


def _driveway_legend(reader: Reader) -> tuple[LegendKey, ...]:
    return styles.driveway_legend(reader.criteria.driveways.driveway_to_structure_flag_frac)


def _edge_class(row: Row, reader: Reader) -> str:
    share = row["share_frac"]
    if share is None or not share >= _LITTLE_FRAC:
        return "little"
    return class_in("sheds_to", styles.EDGE_STYLES)(row, reader)


BUILDINGS: tuple[ResultLayer, ...] = (
    ResultLayer(
        key="structures",
        label="Structures by exposure",
        noun="Structure",
        group=LayerGroup.BUILDINGS,
        rows=lambda result: result.structures,
        table="structures",
        id_column="structure_id",
        lead_column="exposure_why",
        geometry="MultiPolygon",
        styles=styles.EXPOSURE_STYLES,
        legend=lambda reader: styles.exposure_legend(),
        class_of=class_in("exposure", styles.EXPOSURE_STYLES),
        gis_class_column="exposure",
        lies_on_lot=True,
        has_csv=True,
    ),
    ResultLayer(
        key="structure_sides",
        label="Walls by exposure (zoom in)",
        noun="Wall",
        group=LayerGroup.BUILDINGS,
        rows=lambda result: result.structure_sides,
        table="structure_sides",
        id_column="side_id",
        geometry="MultiLineString",
        styles=styles.SIDE_STYLES,
        legend=lambda reader: styles.side_legend(),
        class_of=class_in("exposure", styles.SIDE_STYLES),
        gis_class_column="exposure",
        stands_at_structure=True,
        has_csv=True,
    ),
    ResultLayer(
        key="inflow_points",
        label="Flow paths that meet a wall (zoom in)",
        noun="Flow path at a wall",
        group=LayerGroup.BUILDINGS,
        rows=lambda result: result.inflow_points,
        table="inflow_points",
        id_column="inflow_point_id",
        geometry="Point",
        styles=styles.INFLOW_POINT_STYLES,
        legend=one_line("where it first touches", styles.INFLOW_POINT_STYLES["inflow_point"]),
        stands_at_structure=True,
    ),
    ResultLayer(
        key="doors",
        label="Doors given (zoom in)",
        noun="Door",
        group=LayerGroup.BUILDINGS,
        rows=lambda result: result.doors,
        table="doors",
        id_column="door_id",
        geometry="Point",
        styles=styles.DOOR_STYLES,
        legend=one_line("door, garage door, window well, vent", styles.DOOR_STYLES["door"]),
        stands_at_structure=True,
    ),
    ResultLayer(
        key="driveways",
        label="Driveways by share of water that meets a wall",
        noun="Driveway",
        group=LayerGroup.BUILDINGS,
        rows=lambda result: result.driveways,
        table="driveways",
        id_column="driveway_id",
        geometry="MultiPolygon",
        styles=styles.DRIVEWAY_STYLES,
        legend=_driveway_legend,
        class_of=_driveway_class,
        gis_style=styles.DRIVEWAY_STYLES["little"],
        lies_on_lot=True,
    ),
    ResultLayer(
        key="driveway_edges",
        label="Edges of driveways by what takes their water (zoom in)",
        noun="Edge",
        group=LayerGroup.BUILDINGS,
        rows=lambda result: result.driveway_study.edges,
        table="driveway_edges",
        id_column="edge_id",
        geometry="MultiLineString",
        styles=styles.EDGE_STYLES,
        legend=named({name: styles.EDGE_WORDS[name] for name in styles.EDGE_STYLES}, styles.EDGE_STYLES),
        class_of=_edge_class,
        gis_class_column="sheds_to",
    ),
    ResultLayer(
        key="driveway_arrows",
        label="Flow directions on driveways (zoom in)",
        noun="Flow direction",
        group=LayerGroup.BUILDINGS,
        rows=lambda result: result.driveway_study.arrows,
        table="driveway_arrows",
        id_column="driveway_id",
        geometry="Point",
        styles=styles.DRIVEWAY_ARROW_STYLES,
        legend=one_line("the ground falls this way", styles.DRIVEWAY_ARROW_STYLES["arrow"]),
        gis_style=Style(color=styles.INK, weight=1.0, fill=styles.INK, fill_opacity=1.0),
        arrow_length_m=lambda criteria: 0.7 * criteria.driveways.driveway_arrow_spacing_m,
        is_in_document=False,
    ),
    ResultLayer(
        key="driveway_low_points",
        label="Low points of driveways (zoom in)",
        noun="Low point",
        group=LayerGroup.BUILDINGS,
        rows=lambda result: result.driveway_study.low_points,
        table="driveway_low_points",
        id_column="low_point_id",
        geometry="Point",
        styles=styles.LOW_POINT_STYLES,
        legend=named({name: name for name in styles.LOW_POINT_STYLES}, styles.LOW_POINT_STYLES),
        class_of=class_in("kind", styles.LOW_POINT_STYLES),
        gis_style=styles.LOW_POINT_STYLES["lowest ground"],
    ),
    ResultLayer(
        key="driveway_areas",
        label="Ground that drains to driveways",
        noun="Ground of",
        group=LayerGroup.BUILDINGS,
        rows=lambda result: result.driveway_study.areas,
        table="driveway_areas",
        id_column="driveway_id",
        geometry="MultiPolygon",
        styles=styles.CATCHMENT_STYLES,
        is_drawn=False,
        is_in_document=False,
    ),
)
