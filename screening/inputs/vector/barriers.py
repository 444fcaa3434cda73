"""Barriers as lines with their height, and downspouts as points."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from screening.grid import Bounds
from screening.inputs.tables.numbers import numbers_of
from screening.inputs.vector.geometries import listed
from screening.inputs.vector.ids import find_column, part_id, read_ids, text_of
from screening.inputs.vector.layers import Layer, open_layer, read_layer
from screening.models import Note, note
from screening.schema.codes.inputs import BarrierKind
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from screening.units import M_PER_FT, M_PER_US_FT, MM_PER_IN, MM_PER_M

if TYPE_CHECKING:
    import geopandas as gpd

BARRIER_ID_NAMES = ("barrier_id", "wall_id", "kerb_id", "curb_id", "id", "objectid", "gid", "fid")
DOWNSPOUT_ID_NAMES = ("downspout_id", "leader_id", "id", "objectid", "gid", "fid")
_KIND_NAMES = ("kind", "type", "barrier")
LARGEST_M = 20.0
"""Highest wall or deepest ditch beside a house: common practice."""
_HEIGHT_UNITS_M = {
    "_m": 1.0,
    "_us_ft": M_PER_US_FT,
    "_ft": M_PER_FT,
    "_in": MM_PER_IN / MM_PER_M,
    "_cm": 0.01,
    "_mm": 1.0 / MM_PER_M,
}


def load_barriers(spec: str, *, crs: str, bounds: Bounds | None) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    """Read the curbs, walls and berms that meet a window.

    Parameters
    ----------
    spec
        Layer of lines; the height above the ground stands in a column `height_m`, `height_ft`, `height_in`, ...
    crs, bounds
        Metre CRS, and window in it [m]; None = everywhere.

    Returns
    -------
    `barrier_id`, `kind`, `height_m` (NaN = not given), lines; notes.
    """
    import geopandas as gpd

    layer = open_layer(spec, subject="barriers")
    frame, notes = read_layer(layer, crs=crs, bounds=bounds, want="line", subject="barriers")
    names = _names(layer, frame, BARRIER_ID_NAMES, prefix="B-")
    column = find_column(layer.fields, _KIND_NAMES)
    words = [text_of(value).lower() for value in frame[column].tolist()] if column else [""] * len(frame)
    kinds = [BarrierKind.CURB.value if word == "kerb" else word or BarrierKind.BARRIER.value for word in words]
    height_m = read_length_m(layer, frame, "height")
    height_m = np.where(height_m > 0, height_m, np.nan)
    height_m, tall_notes = drop_too_large(height_m, names, "height", subject="barriers")
    found = [*notes, *tall_notes]
    # What height a curb has then is for the criteria to say.
    is_lost = np.isnan(height_m) & np.array([kind != BarrierKind.CURB for kind in kinds], bool)
    if is_lost.any():
        without = listed(name for name, lost in zip(names, is_lost, strict=True) if lost)
        found.append(note(NoteKind.MISSING, NoteSubject.BARRIERS, NoteCode.HEIGHT_MISSING, ids=without))
    barriers = gpd.GeoDataFrame(
        {"barrier_id": np.array(names, dtype=object), "kind": np.array(kinds, dtype=object), "height_m": height_m},
        geometry=frame.geometry.to_numpy(),
        crs=crs,
    )
    return barriers, tuple(found)


def load_downspouts(spec: str, *, crs: str, bounds: Bounds | None) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    """Read the downspouts that meet a window: `downspout_id`, `structure_id` ("" = not given), points; notes."""
    import geopandas as gpd

    layer = open_layer(spec, subject="downspouts")
    frame, notes = read_layer(layer, crs=crs, bounds=bounds, want="point", subject="downspouts")
    names = _names(layer, frame, DOWNSPOUT_ID_NAMES, prefix="DS-")
    column = find_column(layer.fields, ("structure_id", "building_id", "bldg_id"))
    owners = [text_of(value) for value in frame[column].tolist()] if column else [""] * len(frame)
    downspouts = gpd.GeoDataFrame(
        {"downspout_id": np.array(names, dtype=object), "structure_id": np.array(owners, dtype=object)},
        geometry=frame.geometry.to_numpy(),
        crs=crs,
    )
    return downspouts, notes


def _names(layer: Layer, frame: gpd.GeoDataFrame, id_names: tuple[str, ...], *, prefix: str) -> list[str]:
    ids = read_ids(layer, find_column(layer.fields, id_names), prefix=prefix)
    return [part_id(ids.by_fid[int(fid)], int(part)) for fid, part in zip(frame.index, frame["_part"], strict=True)]


def drop_too_large(
    length_m: NDArray[np.float64], names: list[str], what: str, *, subject: str
) -> tuple[NDArray[np.float64], list[Note]]:
    """Take heights and depths above `LARGEST_M` as not given, with a note: their unit cannot be what was read."""
    with np.errstate(invalid="ignore"):
        is_large = length_m > LARGEST_M
    if not is_large.any():
        return length_m, []
    pairs = zip(names, length_m, is_large, strict=True)
    which = listed(f"{name} {length:,.0f} m" for name, length, large in pairs if large)
    said = note(NoteKind.CAUTION, subject, NoteCode.LENGTHS_TOO_LARGE, column=what, largest_m=LARGEST_M, which=which)
    return np.where(is_large, np.nan, length_m), [said]


def read_length_m(layer: Layer, frame: gpd.GeoDataFrame, name: str) -> NDArray[np.float64]:
    """A length [m] from the column whose name ends in its unit; NaN where there is none."""
    for suffix, factor in _HEIGHT_UNITS_M.items():
        column = find_column(layer.fields, (name + suffix,))
        if column:
            values = numbers_of(frame[column])
            return np.where(np.isfinite(values), values * factor, np.nan)
    return np.full(len(frame), np.nan)
