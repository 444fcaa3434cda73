"""Layers of lots and ground, and those that are drawn as they were given."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from screening.schema import styles
from screening.schema.columns.kinds import text
from screening.schema.layers.declaring import LayerGroup, ResultLayer, one_line
from screening.schema.styles import Style

_LABELS = {
    "structure_id": "Structure",
    "kind": "Kind",
    "hsg": "Hydrologic soil group",
    "mukey": "Map unit key",
    "drain_id": "Drain",
    "barrier_id": "Barrier",
}


def _given(
    key: str,
    label: str,
    noun: str,
    words: str,
    *,
    styles: Mapping[str, Style],
    rows: Callable[[Any], Any] | None = None,
    columns: tuple[str, ...] = (),
    group: LayerGroup = LayerGroup.GROUND,
    is_on: bool = True,
) -> ResultLayer:
    """A layer that is drawn as it was given; its first column is its id."""
    return ResultLayer(
        key=key,
        label=label,
        noun=noun,
        group=group,
        rows=rows or (lambda result: getattr(result.block, key)),
        own_columns=tuple(text(name, _LABELS[name], "") for name in columns),
        id_column=columns[0] if columns else "",
        styles=styles,
        legend=one_line(words, next(iter(styles.values()))),
        is_on=is_on,
        is_context=True,
    )


def _other_structures(result: Any) -> Any:
    return result.block.structures[result.block.structures["lot_id"] == ""]


OTHERS = _given(
    "others",
    "Structures beyond the chosen lots",
    "Structure",
    "stands as a wall to flow",
    styles=styles.OTHER_STYLES,
    rows=_other_structures,
    columns=("structure_id", "kind"),
    group=LayerGroup.BUILDINGS,
)
GROUND: tuple[ResultLayer, ...] = (
    ResultLayer(
        key="lots",
        label="Lots",
        noun="Lot",
        group=LayerGroup.GROUND,
        rows=lambda result: result.summary,
        table="summary",
        id_column="lot_id",
        lead_column="main_finding",
        geometry="MultiPolygon",
        styles=styles.LOT_STYLES,
        legend=one_line("lot line", styles.LOT_STYLES["lot"]),
        has_csv=True,
    ),
    ResultLayer(
        key="contributing_areas",
        label="Ground that drains to the chosen lot",
        noun="Contributing area",
        group=LayerGroup.GROUND,
        rows=lambda result: result.catchments,
        table="contributing_areas",
        id_column="lot_id",
        geometry="MultiPolygon",
        styles=styles.CATCHMENT_STYLES,
        legend=one_line("shown when a lot is chosen", styles.CATCHMENT_STYLES["contributing"]),
        is_from_raster=True,
        lies_on_lot=True,
        is_in_document=False,
    ),
    _given("roads", "Roads", "Road", "road surface", styles=styles.ROAD_STYLES),
    _given(
        "soils",
        "Soil map units",
        "Soil group",
        "edge of a unit, with its group",
        styles=styles.SOIL_STYLES,
        columns=("hsg", "mukey"),
        is_on=False,
    ),
    _given(
        "drains",
        "Drains and culverts given",
        "Drain",
        "drain or culvert",
        styles=styles.DRAIN_STYLES,
        columns=("drain_id", "kind"),
    ),
    _given(
        "barriers",
        "Barriers given",
        "Barrier",
        "curb, wall or berm",
        styles=styles.BARRIER_STYLES,
        columns=("barrier_id", "kind"),
    ),
    _given("wells", "Wells", "Well", "well", styles=styles.WELL_STYLES),
    _given("septic", "Septic fields", "Septic field", "septic field", styles=styles.SEPTIC_STYLES),
    _given("wetlands", "Wetlands", "Wetland", "wetland or open water", styles=styles.WETLAND_STYLES),
    _given(
        "utilities",
        "Buried utilities given",
        "Utility",
        "buried utility; others may run where none is drawn",
        styles=styles.UTILITY_STYLES,
    ),
    _given("trees", "Ground under trees", "Tree", "ground under trees", styles=styles.TREE_STYLES, is_on=False),
    ResultLayer(
        key="surface_changes",
        label="Changes to the routed surface",
        noun="Change",
        group=LayerGroup.GROUND,
        rows=lambda result: result.surface.changes,
        table="surface_changes",
        id_column="change_id",
        geometry="MultiPolygon",
        styles={"change": styles.CHANGE_STYLE},
        is_drawn=False,
        is_in_document=False,
    ),
)
