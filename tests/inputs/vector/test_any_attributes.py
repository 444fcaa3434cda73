"""Attributes of every kind that JSON has, in the columns that are read: a value or a refusal, never a traceback."""

from __future__ import annotations

import json
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from screening.errors import ScreeningError
from screening.inputs.vector.barriers import load_barriers, load_downspouts
from screening.inputs.vector.context import load_driveways, load_structures, load_wells
from screening.inputs.vector.doors import load_doors
from screening.inputs.vector.drains import load_drains
from screening.inputs.vector.ids import read_ids
from screening.inputs.vector.improvements import read_improvements
from screening.inputs.vector.layers import open_layer
from screening.inputs.vector.soils import load_soils

CRS = "EPSG:26917"
POLYGON = {"type": "Polygon", "coordinates": [[[-81.0, 39.7], [-80.999, 39.7], [-80.999, 39.701], [-81.0, 39.7]]]}
LINE = {"type": "LineString", "coordinates": [[-81.0, 39.7], [-80.999, 39.7]]}
POINT = {"type": "Point", "coordinates": [-81.0, 39.7]}


def _ids(path: str) -> Any:
    layer = open_layer(path, subject="lots")
    table = read_ids(layer, next(iter(layer.fields), ""), prefix="lot-")
    assert len(set(table.by_fid.values())) == len(table.by_fid)


LOADERS: dict[str, tuple[Callable[[str], Any], dict[str, Any], tuple[str, ...]]] = {
    "ids": (_ids, POLYGON, ("lot_id",)),
    "structures": (lambda p: load_structures(p, crs=CRS, bounds=None), POLYGON, ("structure_id", "kind", "use")),
    "driveways": (lambda p: load_driveways(p, crs=CRS, bounds=None), POLYGON, ("driveway_id", "surface")),
    "soils": (
        lambda p: load_soils(p, crs=CRS, bounds=None, group_field=""),
        POLYGON,
        ("hydgrp", "ksat_um_s", "ksat_mm_h", "water_table_depth_cm", "impermeable_depth_cm"),
    ),
    "drains": (
        lambda p: load_drains(p, crs=CRS, bounds=None, vertical_unit="m"),
        LINE,
        ("drain_id", "kind", "invert_up_m", "invert_down", "depth_m", "diameter_mm"),
    ),
    "barriers": (lambda p: load_barriers(p, crs=CRS, bounds=None), LINE, ("barrier_id", "kind", "height_ft")),
    "downspouts": (lambda p: load_downspouts(p, crs=CRS, bounds=None), POINT, ("downspout_id", "structure_id")),
    "doors": (
        lambda p: load_doors(p, crs=CRS, bounds=None, vertical_unit="ft"),
        POINT,
        ("door_id", "kind", "structure_id", "sill_elev", "sill_elev_m"),
    ),
    "wells": (lambda p: load_wells(p, crs=CRS, bounds=None), POINT, ("well_id", "kind")),
    "works": (lambda p: read_improvements(p, crs=CRS), LINE, ("id", "kind", "height_m", "depth_m", "to", "note")),
}

plain = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(2**65), 2**65),
    st.floats(allow_nan=False, allow_infinity=False),
    st.text(max_size=6),
    st.sampled_from(["1_0", "1e999", "nan", "2020-02-30", "2020-02-03", "12:30", "swale", "culvert"]),
)
values = st.one_of(plain, st.lists(plain, max_size=3), st.dictionaries(st.text(max_size=3), plain, max_size=2))


@pytest.mark.parametrize("name", list(LOADERS))
@given(data=st.data())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_value_in_any_column(name: str, data: st.DataObject, tmp_path: Path) -> None:
    load, geometry, columns = LOADERS[name]
    rows = data.draw(
        st.lists(st.fixed_dictionaries({}, optional=dict.fromkeys(columns, values)), min_size=1, max_size=3)
    )
    features = [{"type": "Feature", "properties": each, "geometry": geometry} for each in rows]
    path = tmp_path / "awkward.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}), encoding="utf-8")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            found = load(str(path))
        except ScreeningError as refusal:
            assert "awkward" in str(refusal)
            return
    if isinstance(found, tuple):
        frame = found[0]
        assert len(frame) == len(rows)
        for column in frame.select_dtypes("number"):
            assert not np.isinf(frame[column].to_numpy(float)).any() or name == "soils", column
