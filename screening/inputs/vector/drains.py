"""Drains and culverts as lines from up to down, with their inverts in metres."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from screening.grid import Bounds
from screening.inputs.tables.numbers import numbers_of
from screening.inputs.vector.barriers import drop_too_large, read_length_m
from screening.inputs.vector.geometries import listed
from screening.inputs.vector.ids import find_column, part_id, read_ids, text_of
from screening.inputs.vector.layers import Layer, open_layer, read_layer
from screening.models import Note, note
from screening.schema.codes.inputs import VerticalUnit
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from screening.units import VERTICAL_UNITS_M

if TYPE_CHECKING:
    import geopandas as gpd

DRAIN_ID_NAMES = (
    "drain_id",
    "culvert_id",
    "pipe_id",
    "asset_id",
    "facilityid",
    "id",
    "objectid",
    "gid",
    "fid",
)
_UP = (
    "invert_up",
    "up_invert",
    "inv_up",
    "up_inv",
    "upstream_invert",
    "invert_upstream",
    "us_invert",
    "usinvert",
    "invert_in",
    "inv_in",
    "upinvert",
    "up_elev",
)
_DOWN = (
    "invert_down",
    "down_invert",
    "inv_down",
    "down_inv",
    "dn_inv",
    "downstream_invert",
    "invert_downstream",
    "ds_invert",
    "dsinvert",
    "invert_out",
    "inv_out",
    "dninvert",
    "down_elev",
)
_SUFFIXES: dict[str, VerticalUnit | None] = {
    "_m": VerticalUnit.M,
    "_us_ft": VerticalUnit.US_FT,
    "_ft": VerticalUnit.FT,
    "": None,
}


def load_drains(
    spec: str, *, crs: str, bounds: Bounds | None, vertical_unit: str
) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    """Read the drains that meet a window.

    Parameters
    ----------
    spec
        Layer.
    crs, bounds
        Metre CRS, and window in it [m]; None = everywhere.
    vertical_unit
        Unit of the elevation raster, taken for inverts whose column does not end in its unit.

    Returns
    -------
    `drain_id`, `kind` (culvert where it is not said), `invert_up_m`, `invert_down_m`, `depth_m` (NaN = not given),
    lines as drawn; notes.
    """
    import geopandas as gpd

    layer = open_layer(spec, subject="drains")
    frame, notes = read_layer(layer, crs=crs, bounds=bounds, want="line", subject="drains")
    ids = read_ids(layer, find_column(layer.fields, DRAIN_ID_NAMES), prefix="P-")
    up_m, up_notes = read_levels(layer, frame, _UP, vertical_unit, subject="drains")
    down_m, down_notes = read_levels(layer, frame, _DOWN, vertical_unit, subject="drains")
    part = frame["_part"].to_numpy()
    found = [*notes, *up_notes, *down_notes]
    if (part > 0).any():
        up_m, down_m = np.where(part > 0, np.nan, up_m), np.where(part > 0, np.nan, down_m)
        found.append(note(NoteKind.CAUTION, NoteSubject.DRAINS, NoteCode.DRAINS_SPLIT))
    names = [part_id(ids.by_fid[int(fid)], int(number)) for fid, number in zip(frame.index, part, strict=True)]
    depth_m, deep_notes = drop_too_large(read_length_m(layer, frame, "depth"), names, "depth_m", subject="drains")
    found += deep_notes
    climbs = up_m < down_m
    if climbs.any():
        climbing = listed(name for name, is_up in zip(names, climbs, strict=True) if is_up)
        found.append(note(NoteKind.CAUTION, NoteSubject.DRAINS, NoteCode.INVERTS_SWAPPED, ids=climbing))
    drains = gpd.GeoDataFrame(
        {
            "drain_id": np.array(names, dtype=object),
            "kind": np.array(_kinds(layer, frame), dtype=object),
            "invert_up_m": up_m,
            "invert_down_m": down_m,
            "depth_m": depth_m,
        },
        geometry=frame.geometry.to_numpy(),
        crs=crs,
    )
    return drains, tuple(found)


def _kinds(layer: Layer, frame: gpd.GeoDataFrame) -> list[str]:
    """What each line is: `culvert` where it is not said."""
    column = find_column(layer.fields, ("kind", "type"))
    words = [text_of(value).lower() for value in frame[column].tolist()] if column else [""] * len(frame)
    return [word or "culvert" for word in words]


def read_levels(
    layer: Layer, frame: gpd.GeoDataFrame, names: tuple[str, ...], vertical_unit: str, *, subject: str
) -> tuple[NDArray[np.float64], list[Note]]:
    """Read elevations [m] from the first of the named columns, whose unit may end its name; NaN = not given. Notes."""
    for suffix, stated in _SUFFIXES.items():
        column = find_column(layer.fields, [name + suffix for name in names])
        if not column:
            continue
        unit = stated or vertical_unit
        values = numbers_of(frame[column])
        n_strange = int((~np.isfinite(values) & frame[column].notna().to_numpy()).sum())
        notes = []
        if stated is None:
            notes.append(note(NoteKind.ASSUMED, subject, NoteCode.LEVEL_UNIT_ASSUMED, column=column, unit=unit))
        if n_strange:
            notes.append(note(NoteKind.CAUTION, subject, NoteCode.LEVELS_NO_NUMBERS, n_values=n_strange, column=column))
        return np.where(np.isfinite(values), values * VERTICAL_UNITS_M[unit], np.nan), notes
    return np.full(len(frame), np.nan), []
