"""Soil polygons with their hydrologic group, never guessed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from screening.grid import Bounds
from screening.inputs.geometries import listed
from screening.inputs.hydrologic_group import hydrologic_group
from screening.inputs.ids import find_column, named_column, text_of
from screening.inputs.layers import open_layer, read_layer
from screening.models import Note

if TYPE_CHECKING:
    import geopandas as gpd

GROUP_NAMES = (
    "hsg", "hydgrp", "hydgrpdcd", "hydrolgrp_d", "hydrolgrp", "hydgrp_dcd", "hydrogroup", "hydro_group",
    "soil_group",
)  # fmt: skip
"""Usual names of the column of hydrologic groups."""
GROUPS = ("A", "B", "C", "D", "A/D", "B/D", "C/D")
UNKNOWN = "unknown"
_MEASURED = ("ksat_um_s", "impermeable_depth_cm", "water_table_depth_cm")
"""Columns from which a group follows where none is stated; what they mean is said in `hydrologic_group`."""


def group_of(text: str) -> str:
    """Read a hydrologic group; anything but a group is `unknown`.

    Examples
    --------
    >>> group_of(" b/d "), group_of("E")
    ('B/D', 'unknown')
    """
    plain = "".join(text.upper().split())
    return plain if plain in GROUPS else UNKNOWN


def load_soils(
    spec: str, *, crs: str, bounds: Bounds | None, group_field: str | None
) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    """Read the soil polygons that meet a window.

    Parameters
    ----------
    spec
        Layer.
    crs, bounds
        Metre CRS, and window in it [m]; None = everywhere.
    group_field
        Column of the groups where its name is not one of the usual ones.

    Returns
    -------
    `mukey`, `hsg` and polygons; notes.

    Raises
    ------
    InputError
        The layer cannot be read or has not the column that is named.
    """
    import geopandas as gpd

    layer = open_layer(spec, subject="soils")
    frame, notes = read_layer(layer, crs=crs, bounds=bounds, want="polygon", subject="soils")
    column = (
        named_column(layer, group_field, option="--soil-group-field")
        if group_field
        else find_column(layer.fields, GROUP_NAMES)
    )
    stated = [text_of(value) for value in frame[column].tolist()] if column else [""] * len(frame)
    groups = [group_of(text) for text in stated]
    groups, n_derived = _derive_missing(frame, groups)
    key = find_column(layer.fields, ("mukey",))
    keys = [text_of(value) for value in frame[key].tolist()] if key else [""] * len(frame)
    soils = gpd.GeoDataFrame(
        {"mukey": np.array(keys, dtype=object), "hsg": np.array(groups, dtype=object)},
        geometry=frame.geometry.to_numpy(), crs=crs,
    )  # fmt: skip
    if n_derived:
        text = f"{n_derived} polygons without a group: taken from {', '.join(_MEASURED)} by NEH 630 Table 7-1"
        notes = (*notes, Note("converted", "soils", text))
    return soils, (*notes, *_group_notes(column, stated, groups, layer.fields))


def _derive_missing(frame: gpd.GeoDataFrame, groups: list[str]) -> tuple[list[str], int]:
    """Fill unknown groups from conductivity and depths where a polygon states all three."""
    import pandas as pd

    columns = {name.lower(): name for name in frame.columns}
    if not all(name in columns for name in _MEASURED):
        return groups, 0
    values = frame[[columns[name] for name in _MEASURED]].apply(pd.to_numeric, errors="coerce").to_numpy(float)
    filled = [
        hydrologic_group(ksat_um_s=row[0], impermeable_depth_cm=row[1], water_table_depth_cm=row[2])
        if group == UNKNOWN and (row >= 0).all()
        else group
        for group, row in zip(groups, values, strict=True)
    ]
    return filled, sum(old != new for old, new in zip(groups, filled, strict=True))


def _group_notes(column: str, stated: list[str], groups: list[str], fields: tuple[str, ...]) -> list[Note]:
    if not column:
        n_unknown = groups.count(UNKNOWN)
        which = "every group is" if n_unknown == len(groups) else f"{n_unknown} groups are"
        text = f"no column of hydrologic groups among {listed(fields)}: {which} unknown"
        return [Note("missing", "soils", text)] if n_unknown else []
    notes = []
    n_blank = sum(not text and group == UNKNOWN for text, group in zip(stated, groups, strict=True))
    if n_blank:
        notes.append(Note("missing", "soils", f"{n_blank} polygons without a hydrologic group in {column}: unknown"))
    strange = dict.fromkeys(text for text, group in zip(stated, groups, strict=True) if text and group == UNKNOWN)
    if strange:
        text = f"values of {column} that are no hydrologic group taken as unknown: {listed(strange)}"
        notes.append(Note("caution", "soils", text))
    return notes
