from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from shapely.geometry import shape

from screening.models import BlockResult
from screening.report.map.layers import PageLayer, build_layers
from screening.report.templates import bundle_text
from screening.schema.styles import DEPTH_BREAKS_M, FLOW_BREAKS_M2, depth_legend, driveway_legend, flow_legend


@pytest.fixture
def layers(tiny_result: BlockResult) -> dict[str, PageLayer]:
    return {layer.kind.key: layer for layer in build_layers(tiny_result, "metric")}


def test_layers_with_features_are_there(layers: dict[str, PageLayer]) -> None:
    assert list(layers) == [
        "structures",
        "structure_sides",
        "inflow_points",
        "doors",
        "driveways",
        "driveway_edges",
        "driveway_arrows",
        "driveway_low_points",
        "others",
        "flow_paths",
        "overflow_paths",
        "low_spots",
        "interception_lines",
        "drain_outlets",
        "collection_points",
        "collection_routes",
        "infiltration_zones",
        "lots",
        "contributing_areas",
        "roads",
        "soils",
        "drains",
        "barriers",
        "wells",
        "septic",
        "wetlands",
        "utilities",
        "trees",
    ]
    off = [key for key, layer in layers.items() if not layer.kind.is_on]
    assert off == ["overflow_paths", "collection_points", "collection_routes", "soils", "trees"]


def test_every_layer_has_its_place_in_the_stack(layers: dict[str, PageLayer]) -> None:
    """A layer that the page's order of drawing does not name would lie under all the others."""
    script = bundle_text("map")
    assert [key for key in layers if f'"{key}"' not in script] == []


def test_a_layer_without_features_has_no_switch(tiny_result: BlockResult) -> None:
    block = dataclasses.replace(tiny_result.block, wells=tiny_result.block.wells.iloc[:0])
    made = build_layers(dataclasses.replace(tiny_result, block=block), "metric")
    assert "wells" not in [layer.kind.key for layer in made]


def test_classes(layers: dict[str, PageLayer]) -> None:
    assert [feature["c"] for feature in layers["structures"].features] == ["ponding", "low"]
    assert layers["driveways"].features[0]["c"] == "not assessed"
    assert layers["flow_paths"].features[0]["c"] == "large"
    assert [feature["id"] for feature in layers["others"].features] == ["S-3"]


@pytest.mark.parametrize(
    ("share", "flagged", "expected"), [(0.0, False, "little"), (0.3, False, "some"), (0.6, True, "most")]
)
def test_driveway_classes(tiny_result: BlockResult, share: float, flagged: bool, expected: str) -> None:
    table = tiny_result.driveways.assign(to_structure_frac=share, is_flagged=flagged)
    made = build_layers(dataclasses.replace(tiny_result, driveways=table), "metric")
    assert next(layer for layer in made if layer.kind.key == "driveways").features[0]["c"] == expected


def test_an_unknown_exposure_is_shown_as_not_assessed(tiny_result: BlockResult) -> None:
    table = tiny_result.structures.assign(exposure="something new")
    made = build_layers(dataclasses.replace(tiny_result, structures=table), "metric")
    assert {feature["c"] for feature in made[0].features} == {"not assessed"}


def test_every_class_has_a_style(layers: dict[str, PageLayer]) -> None:
    for layer in layers.values():
        assert {feature["c"] for feature in layer.features} <= set(layer.kind.styles)


def test_places_are_in_degrees_to_the_centimetre(layers: dict[str, PageLayer], tiny_result: BlockResult) -> None:
    from pyproj import Transformer

    lot = shape(layers["lots"].features[0]["g"])
    to_degrees = Transformer.from_crs("EPSG:26917", "EPSG:4326", always_xy=True)
    corner = to_degrees.transform(*np.asarray(tiny_result.summary.geometry.iloc[0].exterior.coords)[0])
    np.testing.assert_allclose(lot.exterior.coords[0], corner, atol=0.5e-7)
    assert all(round(value, 7) == value for value in lot.exterior.coords[0])


def test_a_lot_and_what_lies_on_it_lead_to_each_other(layers: dict[str, PageLayer]) -> None:
    first, second = layers["lots"].features
    assert first["to"] == [
        ["structures", 0],
        ["driveways", 0],
        ["low_spots", 0],
        ["interception_lines", 0],
        ["infiltration_zones", 0],
        ["contributing_areas", 0],
    ]
    assert second["to"] == [["structures", 1], ["low_spots", 0], ["contributing_areas", 1]]
    assert layers["low_spots"].features[0]["to"] == [["lots", 0], ["lots", 1]]


def test_a_structure_and_its_walls_lead_to_each_other(layers: dict[str, PageLayer]) -> None:
    first, second = layers["structures"].features
    assert first["to"] == [["lots", 0], ["structure_sides", 0], ["inflow_points", 0], ["doors", 0]]
    assert second["to"] == [["lots", 1]]
    for key in ("structure_sides", "inflow_points", "doors"):
        assert layers[key].features[0]["to"] == [["structures", 0]]
    assert layers["structure_sides"].features[0]["c"] == "ponding"


@pytest.mark.parametrize(("units", "depth"), [("metric", "0.40 m deep"), ("us", "1.3 ft deep")])
def test_reasons_are_in_the_units_of_the_reader(tiny_result: BlockResult, units: Any, depth: str) -> None:
    table = tiny_result.structures.assign(pond_depth_full_m=0.4, pond_side="south", low_spot_id="LS-1")
    made = build_layers(dataclasses.replace(tiny_result, structures=table), units)
    at = [column.name for column in made[0].columns].index("exposure_why")
    assert f"Low spot LS-1 holds water {depth} against the south side when full" in made[0].features[0]["v"][at]


def test_whole_ids_stay_out_of_the_page(layers: dict[str, PageLayer]) -> None:
    feature = layers["lots"].payload()["features"][0]
    assert set(feature) == {"id", "c", "g", "v", "to", "d"}


def test_values_are_shown_in_the_unit_system(tiny_result: BlockResult) -> None:
    lots = next(layer for layer in build_layers(tiny_result, "us") if layer.kind.key == "lots")
    at = [column.name for column in lots.columns].index("rain_mm")
    assert lots.features[0]["v"][at] == "0.02 in"


def test_legends_have_a_line_for_each_class() -> None:
    assert [key.text for key in depth_legend("metric")] == [
        "under 0.10 m",
        "0.10 to 0.20 m",
        "0.20 to 0.40 m",
        "0.40 to 0.80 m",
        "over 0.80 m",
    ]
    assert [key.text for key in flow_legend("us")][1] == "10,000 to 50,000 sq ft"
    assert [key.text for key in driveway_legend(0.5)][:2] == ["50 % or more to a wall", "25 % to 50 %"]
    for system in ("metric", "us"):
        assert list(DEPTH_BREAKS_M[system]) == sorted(DEPTH_BREAKS_M[system])
        assert list(FLOW_BREAKS_M2[system]) == sorted(FLOW_BREAKS_M2[system])
