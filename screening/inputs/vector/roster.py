"""Every lot of a layer, each accounted for: those that can be screened, and why the others cannot."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.errors import InputError
from screening.inputs.raster.elevation import ElevationSource
from screening.inputs.vector.geometries import listed
from screening.inputs.vector.ids import IdTable
from screening.inputs.vector.layers import open_layer, read_layer
from screening.inputs.vector.lot_ids import lot_ids, mended_ids
from screening.models import Note, SiteRequest, note
from screening.schema.codes.inputs import LotReason
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject

if TYPE_CHECKING:
    import geopandas as gpd


@dataclass(frozen=True, eq=False)
class Roster:
    """The lots asked for, in the order of their file.

    Parameters
    ----------
    lots
        `lot_id` (unique text), `file_order` (from 0), `reason` (empty = can be screened) and polygons in the CRS of the
        elevation grid; None where there is no polygon.
    notes
        What was assumed, converted or repaired.
    """

    lots: gpd.GeoDataFrame
    notes: tuple[Note, ...]


def read_roster(request: SiteRequest, elevation: ElevationSource) -> Roster:
    """Read all lots asked for, and say of each whether it can be screened.

    Parameters
    ----------
    request
        `lots`, and `lot_ids` where only some are asked for: an id that several lots share asks for all of them.
    elevation
        The raster they must lie on.

    Raises
    ------
    InputError
        There is no lots layer, it cannot be used, or an id is not in it.
    """
    import geopandas as gpd
    import shapely

    if request.lots is None:
        raise InputError("There are no lots to screen", got="no lots layer", mend="give --lots FILE")
    layer = open_layer(request.lots, subject="lots")
    ids = lot_ids(layer, request.lot_id_field)
    fids = _asked(request.lot_ids, ids, layer.title)
    crs = elevation.grid.crs
    frame, notes = read_layer(layer, crs=crs, bounds=None, want="polygon", subject="lots", keep_multi=True)
    shapes: Any = frame.geometry.reindex(fids).to_numpy()
    has_place = np.isfinite(shapely.bounds(shapes)).all(axis=1)
    shapes[~has_place] = None
    on_raster = shapely.area(shapely.intersection(shapes[has_place], shapely.box(*elevation.grid.bounds))) > 0.0
    reason = np.full(len(fids), LotReason.NO_POLYGON.value, dtype=object)
    reason[has_place] = np.where(on_raster, LotReason.NONE.value, LotReason.NOT_ON_RASTER.value)
    rows = {
        "lot_id": np.array([ids.by_fid[fid] for fid in fids], dtype=object),
        "file_order": np.arange(len(fids)),
        "reason": reason,
    }
    return Roster(gpd.GeoDataFrame(rows, geometry=shapes, crs=crs), (*_id_notes(ids), *notes))


def _asked(wanted: tuple[str, ...], ids: IdTable, title: str) -> list[int]:
    if not wanted:
        return list(ids.by_fid)
    names = set(wanted)
    unknown = sorted(names - set(ids.by_fid.values()) - set(ids.given.values()))
    if unknown:
        near = difflib.get_close_matches(unknown[0], list(ids.by_fid.values()), n=5, cutoff=0.5)
        raise InputError(
            f"There is no lot {unknown[0]!r} in the {title}",
            got=listed(unknown),
            expected="ids of its lots" + (f", nearest: {', '.join(near)}" if near else ""),
            mend="correct the ids, or name the column of ids with --lot-id-field",
        )
    shared = {text for text in names if text in set(ids.given.values())}
    return [fid for fid, name in ids.by_fid.items() if ids.given[fid] in shared or name in names]


def _id_notes(ids: IdTable) -> list[Note]:
    numbered = note(NoteKind.ASSUMED, NoteSubject.LOTS, NoteCode.LOTS_NUMBERED)
    return [*([] if ids.column else [numbered]), *mended_ids(ids)]
