"""Doors, garage doors, window wells and vents as points, with their sills in metres."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from screening.grid import Bounds
from screening.inputs.vector.drains import read_levels
from screening.inputs.vector.ids import find_column, part_id, read_ids, text_of
from screening.inputs.vector.layers import open_layer, read_layer
from screening.models import Note

if TYPE_CHECKING:
    import geopandas as gpd

DOOR_ID_NAMES = ("door_id", "opening_id", "id", "objectid", "gid", "fid")
_KIND_NAMES = ("kind", "type", "opening")
_STRUCTURE_NAMES = ("structure_id", "building_id", "bldg_id")
_SILL_NAMES = ("sill_elev", "sill", "sill_elevation", "threshold_elev")


def load_doors(
    spec: str, *, crs: str, bounds: Bounds | None, vertical_unit: str
) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    """Read the doors and other openings that meet a window.

    Parameters
    ----------
    spec
        Layer of points; the elevation of a sill stands in a column such as `sill_elev_m` or `sill_elev_ft`, on the
        datum of the elevation raster.
    crs, bounds
        Metre CRS, and window in it [m]; None = everywhere.
    vertical_unit
        Unit of the elevation raster, taken for sills whose column does not end in its unit.

    Returns
    -------
    `door_id`, `kind` (door where it is not said), `structure_id` ("" = not given), `sill_elev_m` (NaN = not given),
    points; notes.
    """
    import geopandas as gpd

    layer = open_layer(spec, subject="doors")
    frame, notes = read_layer(layer, crs=crs, bounds=bounds, want="point", subject="doors")
    ids = read_ids(layer, find_column(layer.fields, DOOR_ID_NAMES), prefix="DR-")
    names = [part_id(ids.by_fid[int(fid)], int(part)) for fid, part in zip(frame.index, frame["_part"], strict=True)]
    sill_m, sill_notes = read_levels(layer, frame, _SILL_NAMES, vertical_unit, subject="doors")
    words = {
        "kind": [text.lower() or "door" for text in _texts(layer.fields, frame, _KIND_NAMES)],
        "structure_id": _texts(layer.fields, frame, _STRUCTURE_NAMES),
    }
    doors = gpd.GeoDataFrame(
        {
            "door_id": np.array(names, dtype=object),
            **{name: np.array(texts, dtype=object) for name, texts in words.items()},
            "sill_elev_m": sill_m,
        },
        geometry=frame.geometry.to_numpy(),
        crs=crs,
    )
    return doors, (*notes, *sill_notes)


def _texts(fields: tuple[str, ...], frame: gpd.GeoDataFrame, names: tuple[str, ...]) -> list[str]:
    column = find_column(fields, names)
    return [text_of(value) for value in frame[column].tolist()] if column else [""] * len(frame)
