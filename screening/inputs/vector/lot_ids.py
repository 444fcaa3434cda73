"""Ids of lots: from the usual columns or the one that is named, each unique."""

from __future__ import annotations

from functools import partial

from screening.inputs.vector.geometries import listed
from screening.inputs.vector.ids import IdTable, find_column, named_column, read_ids
from screening.inputs.vector.layers import Layer
from screening.models import Note, note
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject

LOT_ID_NAMES = (
    "lot_id",
    "lotid",
    "parcel_id",
    "parcelid",
    "parcel_no",
    "parcelno",
    "parcelnumb",
    "parcel_num",
    "parno",
    "pid",
    "apn",
    "pin",
    "taxpin",
    "tax_id",
    "taxid",
    "map_lot",
    "maplot",
    "maplotunit",
    "mapblklot",
    "gis_id",
    "gisid",
    "loc_id",
    "lot_no",
    "lot",
    "parcel",
    "id",
    "objectid",
    "gid",
    "fid",
)
"""Usual names of the column of lot ids, the first found wins."""


def lot_ids(layer: Layer, field: str | None) -> IdTable:
    """Give every lot of a layer its unique id, from the usual columns or the one that is named."""
    column = named_column(layer, field, option="--lot-id-field") if field else find_column(layer.fields, LOT_ID_NAMES)
    return read_ids(layer, column, prefix="lot-")


def id_notes(layer: Layer, ids: IdTable) -> list[Note]:
    """Note where the ids of lots are not those of a column."""
    if not ids.column:
        fields = listed(layer.fields) or "none"
        return [note(NoteKind.ASSUMED, NoteSubject.LOTS, NoteCode.LOTS_NUMBERED_AMONG, columns=fields)]
    return mended_ids(ids)


def mended_ids(ids: IdTable) -> list[Note]:
    """Note the ids that several lots share, and lots that have none."""
    repaired, notes = partial(note, NoteKind.REPAIRED, NoteSubject.LOTS), []
    if ids.repeated:
        several = listed(ids.repeated)
        notes.append(repaired(NoteCode.LOT_IDS_REPEATED, n_ids=len(ids.repeated), column=ids.column, ids=several))
    if ids.n_unnamed:
        notes.append(repaired(NoteCode.LOT_IDS_MISSING, n_lots=ids.n_unnamed, column=ids.column))
    return notes
