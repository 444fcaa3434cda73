"""Soil polygons with their hydrologic group, never guessed."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from screening.grid import Bounds
from screening.inputs.tables.numbers import numbers_of
from screening.inputs.vector.geometries import listed
from screening.inputs.vector.ids import find_column, named_column, text_of
from screening.inputs.vector.layers import open_layer, read_layer
from screening.models import F64, Note, note
from screening.schema.codes.inputs import SoilGroup
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from screening.schema.soil_groups import group_by_conductivity
from screening.units import M_PER_FT, M_PER_US_FT, MM_H_PER_UM_S, MM_PER_IN, MM_PER_M

if TYPE_CHECKING:
    import geopandas as gpd

GROUP_NAMES = (
    "hsg",
    "hydgrp",
    "hydgrpdcd",
    "hydrolgrp_d",
    "hydrolgrp",
    "hydgrp_dcd",
    "hydrogroup",
    "hydro_group",
    "soil_group",
)
"""Usual names of the column of hydrologic groups."""
_GROUPS = frozenset(SoilGroup) - {SoilGroup.UNKNOWN}
_KSAT_NAMES: dict[str, float] = {
    "ksat_um_s": MM_H_PER_UM_S,
    "ksat_mm_h": 1.0,
    "ksat_in_h": MM_PER_IN,
    "ksat_r": MM_H_PER_UM_S,
}
"""Columns of saturated conductivity and what makes them mm/h; `ksat_r` is that of the national soil survey, in um/s
(from memory)."""
_LENGTHS_M = {
    "_cm": 0.01,
    "_m": 1.0,
    "_mm": 1.0 / MM_PER_M,
    "_us_ft": M_PER_US_FT,
    "_ft": M_PER_FT,
    "_in": MM_PER_IN / MM_PER_M,
}
_WATER_NAMES = {f"water_table_depth{unit}": factor for unit, factor in _LENGTHS_M.items()} | {"wtdepannmin": 0.01}
_RESTRICTIVE_NAMES = {
    f"{name}_depth{unit}": factor
    for name in ("restrictive", "impermeable", "bedrock")
    for unit, factor in _LENGTHS_M.items()
} | {"brockdepmin": 0.01}
"""Columns of depths and what makes them metres; `wtdepannmin` and `brockdepmin` are those of the national soil survey's
map unit table, in cm (from memory). Nothing there means not known, not that there is none."""


def group_of(text: str) -> SoilGroup:
    """Read a hydrologic group; anything but a group is `unknown`.

    Examples
    --------
    >>> group_of(" b/d ").value, group_of("E").value
    ('B/D', 'unknown')
    """
    plain = "".join(text.upper().split())
    return SoilGroup(plain) if plain in _GROUPS else SoilGroup.UNKNOWN


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
    `mukey`, `hsg`, `ksat_mm_h`, `water_depth_m`, `restrictive_depth_m` (NaN = not given) and polygons; notes.

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
    measured = {
        name: _read(layer.fields, frame, names)
        for name, names in (
            ("ksat_mm_h", _KSAT_NAMES),
            ("water_depth_m", _WATER_NAMES),
            ("restrictive_depth_m", _RESTRICTIVE_NAMES),
        )
    }
    groups, n_derived = _derive_missing(groups, **{name: values for name, (_, values) in measured.items()})
    key = find_column(layer.fields, ("mukey",))
    keys = [text_of(value) for value in frame[key].tolist()] if key else [""] * len(frame)
    soils = gpd.GeoDataFrame(
        {"mukey": np.array(keys, dtype=object), "hsg": np.array([group.value for group in groups], dtype=object)}
        | {name: values for name, (_, values) in measured.items()},
        geometry=frame.geometry.to_numpy(),
        crs=crs,
    )
    if n_derived:
        used = ", ".join(column for column, _ in measured.values())
        derived = note(
            NoteKind.CONVERTED, NoteSubject.SOILS, NoteCode.GROUPS_DERIVED, n_polygons=n_derived, columns=used
        )
        notes = (*notes, derived)
    return soils, (*notes, *_group_notes(column, stated, groups, layer.fields))


def _read(fields: tuple[str, ...], frame: gpd.GeoDataFrame, names: dict[str, float]) -> tuple[str, F64]:
    """Read the first column of these names, in SI; NaN where it gives nothing or less than 0. Infinity is kept."""
    for name, factor in names.items():
        column = find_column(fields, (name,))
        if column:
            values = numbers_of(frame[column])
            return column, np.where(values >= 0.0, values * factor, np.nan)
    return "", np.full(len(frame), np.nan)


def _derive_missing(
    groups: list[SoilGroup], *, ksat_mm_h: F64, water_depth_m: F64, restrictive_depth_m: F64
) -> tuple[list[SoilGroup], int]:
    """Fill unknown groups from conductivity and depths where a polygon states all three."""
    rows = zip(groups, ksat_mm_h, water_depth_m, restrictive_depth_m, strict=True)
    filled = [
        SoilGroup(group_by_conductivity(ksat_mm_h=ksat, restrictive_depth_m=restrictive, water_depth_m=water))
        if group is SoilGroup.UNKNOWN and not np.isnan([ksat, water, restrictive]).any()
        else group
        for group, ksat, water, restrictive in rows
    ]
    return filled, sum(old != new for old, new in zip(groups, filled, strict=True))


def _group_notes(column: str, stated: list[str], groups: list[SoilGroup], fields: tuple[str, ...]) -> list[Note]:
    missing = partial(note, NoteKind.MISSING, NoteSubject.SOILS)
    if not column:
        n_unknown = groups.count(SoilGroup.UNKNOWN)
        if not n_unknown:
            return []
        if n_unknown == len(groups):
            return [missing(NoteCode.NO_GROUP_COLUMN, columns=listed(fields))]
        return [missing(NoteCode.NO_GROUP_COLUMN_FOR_SOME, columns=listed(fields), n_polygons=n_unknown)]
    notes = []
    n_blank = sum(not text and group is SoilGroup.UNKNOWN for text, group in zip(stated, groups, strict=True))
    if n_blank:
        notes.append(missing(NoteCode.GROUPS_MISSING, n_polygons=n_blank, column=column))
    strange = dict.fromkeys(
        text for text, group in zip(stated, groups, strict=True) if text and group is SoilGroup.UNKNOWN
    )
    if strange:
        given = listed(strange)
        notes.append(note(NoteKind.CAUTION, NoteSubject.SOILS, NoteCode.GROUPS_STRANGE, column=column, given=given))
    return notes
