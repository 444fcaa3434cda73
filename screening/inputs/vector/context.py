"""The layers around the lots: structures, driveways, roads, septic fields, wells and drains."""

from __future__ import annotations

import re
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from screening.grid import Bounds
from screening.inputs.vector.geometries import listed
from screening.inputs.vector.ids import find_column, part_id, read_ids, text_of
from screening.inputs.vector.layers import Layer, open_layer, read_layer
from screening.models import Note, note
from screening.schema.codes.inputs import StructureKind
from screening.schema.codes.notes import NoteCode, NoteKind

if TYPE_CHECKING:
    import geopandas as gpd

STRUCTURE_ID_NAMES = (
    "structure_id",
    "structureid",
    "struct_id",
    "building_id",
    "bldg_id",
    "bldgid",
    "build_id",
    "bld_id",
    "id",
    "objectid",
    "gid",
    "fid",
)
DRIVEWAY_ID_NAMES = ("driveway_id", "drivewayid", "drive_id", "id", "objectid", "gid", "fid")
KIND_NAMES = ("kind", "bldg_type", "building", "type", "use", "bldg_use", "use_type", "occ_cls", "prim_occ")
_KIND_WORDS = (
    (StructureKind.GARAGE, re.compile(r"\b(garages?|carports?)\b")),
    (StructureKind.SHED, re.compile(r"\b(sheds?|outbuildings?)\b")),
    (
        StructureKind.HOUSE,
        re.compile(r"\b(house|townhouse|row ?house|home|dwelling|residence|residential|single[- ]family|duplex)\b"),
    ),
)
LEAST_SHARE = 0.1
"""Share of a footprint that must lie on a lot to belong to it."""


def kind_of(text: str) -> StructureKind:
    """Read what a structure is from a word; `structure` where the word says nothing.

    Examples
    --------
    >>> kind_of("Detached GARAGE").value, kind_of("greenhouse").value
    ('garage', 'structure')
    """
    plain = text.lower().replace("_", " ")
    return next((kind for kind, words in _KIND_WORDS if words.search(plain)), StructureKind.STRUCTURE)


def load_structures(spec: str, *, crs: str, bounds: Bounds | None) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    """Read the structures that meet a window: `structure_id`, `lot_id` (still empty), `kind`, polygons."""
    layer = open_layer(spec, subject="structures")
    frame, notes = read_layer(layer, crs=crs, bounds=bounds, want="polygon", subject="structures")
    columns = [name for name in (find_column(layer.fields, (usual,)) for usual in KIND_NAMES) if name]
    kinds = [StructureKind.STRUCTURE] * len(frame)
    for column in columns:
        found = [kind_of(text_of(value)) for value in frame[column].tolist()]
        kinds = [kind if kind is not StructureKind.STRUCTURE else new for kind, new in zip(kinds, found, strict=True)]
    ids, id_notes = _feature_ids(layer, frame, STRUCTURE_ID_NAMES, prefix="S-")
    return _frame(frame, structure_id=ids, lot_id=[""] * len(frame), kind=[kind.value for kind in kinds]), (
        *notes,
        *id_notes,
    )


def load_driveways(spec: str, *, crs: str, bounds: Bounds | None) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    """Read the driveways that meet a window: `driveway_id`, `lot_id` (still empty), `kind`, polygons."""
    layer = open_layer(spec, subject="driveways")
    frame, notes = read_layer(layer, crs=crs, bounds=bounds, want="polygon", subject="driveways")
    ids, id_notes = _feature_ids(layer, frame, DRIVEWAY_ID_NAMES, prefix="D-")
    ready = _frame(frame, driveway_id=ids, lot_id=[""] * len(frame), kind=["driveway"] * len(frame))
    return ready, (*notes, *id_notes)


def load_polygons(
    spec: str, *, crs: str, bounds: Bounds | None, subject: str
) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    """Read the polygons of a layer that meet a window, without attributes."""
    frame, notes = read_layer(spec, crs=crs, bounds=bounds, want="polygon", subject=subject)
    return _frame(frame), notes


def load_lines(
    spec: str, *, crs: str, bounds: Bounds | None, subject: str
) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    """Read the lines of a layer that meet a window, without attributes."""
    frame, notes = read_layer(spec, crs=crs, bounds=bounds, want="line", subject=subject)
    return _frame(frame), notes


def load_wells(spec: str, *, crs: str, bounds: Bounds | None) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    """Read the wells that meet a window, as points."""
    frame, notes = read_layer(spec, crs=crs, bounds=bounds, want="point", subject="wells")
    return _frame(frame), notes


def assign_lots(features: gpd.GeoDataFrame, lots: gpd.GeoDataFrame, *, chosen: frozenset[str]) -> NDArray[Any]:
    """Give each footprint the lot it overlaps most.

    Parameters
    ----------
    features
        Polygons.
    lots
        `lot_id` and polygons of every lot near them, chosen or not: a footprint that lies mostly on a
        neighbour's lot is the neighbour's, however few lots are screened.
    chosen
        Ids of the lots that are screened; where lots lie upon each other they come first.

    Returns
    -------
    Lot id of each feature, object [text]; empty where it lies on no chosen lot.
    """
    import shapely

    out = np.full(len(features), "", dtype=object)
    if not len(features) or not len(lots):
        return out
    shapes, lot_shapes = features.geometry.to_numpy(), lots.geometry.to_numpy()
    lot_names = lots["lot_id"].to_numpy()
    feature, lot = shapely.STRtree(lot_shapes).query(shapes, predicate="intersects")
    overlap_m2 = shapely.area(shapely.intersection(shapes[feature], lot_shapes[lot]))
    is_enough = overlap_m2 >= LEAST_SHARE * shapely.area(shapes[feature])
    feature, lot, overlap_m2 = feature[is_enough], lot[is_enough], overlap_m2[is_enough]
    is_chosen = np.isin(lot_names[lot].astype(str), sorted(chosen))
    # Millimetre noise must not decide between lots that lie upon each other.
    order = np.lexsort((lot, ~is_chosen, -np.round(overlap_m2, 3), feature))
    found, first = np.unique(feature[order], return_index=True)
    winner = lot[order][first]
    out[found] = np.where(is_chosen[order][first], lot_names[winner], "")
    return out


def _feature_ids(
    layer: Layer, frame: gpd.GeoDataFrame, names: tuple[str, ...], *, prefix: str
) -> tuple[list[str], list[Note]]:
    table = read_ids(layer, find_column(layer.fields, names), prefix=prefix)
    ids = [part_id(table.by_fid[int(fid)], int(part)) for fid, part in zip(frame.index, frame["_part"], strict=True)]
    notes = []
    if not table.column:
        notes.append(note(NoteKind.ASSUMED, layer.subject, NoteCode.NO_ID_COLUMN, prefix=prefix))
    repaired = partial(note, NoteKind.REPAIRED, layer.subject)
    if table.repeated:
        notes.append(repaired(NoteCode.IDS_REPEATED, column=table.column, ids=listed(table.repeated)))
    if table.n_unnamed:
        notes.append(repaired(NoteCode.IDS_MISSING, n_features=table.n_unnamed, column=table.column))
    if (frame["_part"] > 0).any():
        notes.append(note(NoteKind.CONVERTED, layer.subject, NoteCode.PARTS_NAMED))
    return _distinct(ids), notes


def _distinct(ids: list[str]) -> list[str]:
    """Part numbers may run into an id of the file: add # where they do."""
    taken: set[str] = set()
    out = []
    for name in ids:
        while name in taken:
            name += "#"
        taken.add(name)
        out.append(name)
    return out


def _frame(frame: gpd.GeoDataFrame, **columns: list[str]) -> gpd.GeoDataFrame:
    import geopandas as gpd

    ready = {name: np.array(values, dtype=object) for name, values in columns.items()}
    return gpd.GeoDataFrame(ready, geometry=frame.geometry.to_numpy(), crs=frame.crs)
