"""Which lots are screened: by id, by place, or all of them."""

from __future__ import annotations

import difflib
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.errors import InputError
from screening.grid import Bounds, Grid
from screening.inputs.datum import datum_taken
from screening.inputs.vector.geometries import listed
from screening.inputs.vector.ids import IdTable
from screening.inputs.vector.layers import Layer, open_layer, read_layer
from screening.inputs.vector.lot_ids import id_notes, lot_ids
from screening.models import LatLon, Note, SiteRequest, note
from screening.projections import transformer_between
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject

if TYPE_CHECKING:
    import geopandas as gpd

_RADIUS_MAX_M = 10_000.0
_SHARED_FRAC = 0.01
"""Share of the smaller of two lots that must lie on the other for a caution: lines of neighbours seldom fit exactly."""
SITE_ID = "site"
"""Id of the circle that stands for a lot where there is no lots layer."""


def choose_lots(request: SiteRequest, grid: Grid) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    """Choose the lots to screen.

    Parameters
    ----------
    request
        Lots layer, ids or place.
    grid
        Whole extent of the elevation raster.

    Returns
    -------
    `lot_id` and polygons in the CRS of the grid, in the order of the file; notes.

    Raises
    ------
    InputError
        An id or place is not found, nothing lies on the raster, or neither lots nor a place are given.
    """
    if request.lot_ids and request.at is not None:
        raise InputError(
            "Lots are asked for both by id and by place",
            got=f"{listed(request.lot_ids)} and a place",
            expected="one of the two",
            mend="leave out --lot-id or --at",
        )
    if request.lots is None:
        return _circle(request, grid)
    layer = open_layer(request.lots, subject="lots")
    ids = lot_ids(layer, request.lot_id_field)
    notes = list(id_notes(layer, ids))
    if request.lot_ids:
        lots, found = _by_id(request.lot_ids, layer, ids, grid)
    elif request.at is not None:
        lots, found = _by_place(request.at, layer, ids, grid)
    else:
        lots, found = _read(layer, ids, grid, bounds=grid.bounds)
        if not len(lots):
            raise InputError(
                f"No lot lies on the elevation raster {request.elevation.name}",
                got=f"{layer.title} with {layer.n_features} features in {layer.crs.name}",
                expected="lots within the extent of the raster",
                mend="give lots and elevation of the same place, and check that the lots are in the CRS they state",
            )
    lots, off = _on_raster(lots, grid)
    return lots, (*notes, *found, *off, *_overlap_notes(lots))


def load_lots(
    spec: str, *, crs: str, bounds: Bounds | None, id_field: str | None
) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    """Read every lot that meets a window, chosen or not.

    Parameters
    ----------
    spec
        Layer.
    crs, bounds
        Metre CRS, and window in it [m]; None = everywhere.
    id_field
        Column of the ids where its name is not one of the usual ones.

    Returns
    -------
    `lot_id` and polygons; notes.
    """
    layer = open_layer(spec, subject="lots")
    ids = lot_ids(layer, id_field)
    frame, notes = read_layer(layer, crs=crs, bounds=bounds, want="polygon", subject="lots", keep_multi=True)
    return _named(frame, ids), (*id_notes(layer, ids), *notes)


def lon_lat_to(crs: str, place: LatLon) -> tuple[float, float]:
    """Bring a place to a metre CRS: x, y [m]."""
    datum_taken("EPSG:4326", crs, subject="place")
    x, y = transformer_between("EPSG:4326", crs).transform(place.lon, place.lat)
    return float(x), float(y)


def _read(
    layer: Layer, ids: IdTable, grid: Grid, *, bounds: Bounds | None = None, fids: list[int] | None = None
) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    frame, notes = read_layer(
        layer, crs=grid.crs, bounds=bounds, want="polygon", subject="lots", keep_multi=True, fids=fids
    )
    return _named(frame, ids), notes


def _named(frame: gpd.GeoDataFrame, ids: IdTable) -> gpd.GeoDataFrame:
    import geopandas as gpd

    names = [ids.by_fid[int(fid)] for fid in frame.index]
    return gpd.GeoDataFrame(
        {"lot_id": np.array(names, dtype=object)}, geometry=frame.geometry.to_numpy(), crs=frame.crs
    )


def _by_id(
    wanted: tuple[str, ...], layer: Layer, ids: IdTable, grid: Grid
) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    """Find lots by unique id, or all that share a repeated one."""
    fids: set[int] = set()
    sharing: dict[str, list[int]] = {}
    for fid, text in ids.given.items():
        sharing.setdefault(text, []).append(fid)
    fid_of = {name: fid for fid, name in ids.by_fid.items()}
    known = list(ids.by_fid.values()) or ["none"]
    for lot_id in wanted:
        found = sharing.get(lot_id, []) if lot_id else []
        found = found or ([fid_of[lot_id]] if lot_id in fid_of else [])
        if not found:
            near = difflib.get_close_matches(lot_id, known, n=5, cutoff=0.5)
            column = f"column {ids.column}" if ids.column else "its position numbers"
            raise InputError(
                f"There is no lot {lot_id!r} in the {layer.title}",
                got=lot_id,
                expected=f"an id of {column}, " + ("nearest: " + ", ".join(near) if near else f"such as {known[0]}"),
                mend="correct the id, or name the column of ids with --lot-id-field",
            )
        fids.update(found)
    lots, notes = _read(layer, ids, grid, fids=sorted(fids))
    lost = sorted({ids.by_fid[fid] for fid in fids} - set(lots["lot_id"]))
    if lost and not len(lots):
        raise InputError(
            "The lots asked for have no usable polygon",
            got=listed(lost),
            expected="polygons",
            mend=f"repair them in the {layer.title}",
        )
    return lots, notes


def _by_place(place: LatLon, layer: Layer, ids: IdTable, grid: Grid) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    """Find the lot that holds a place; the first in the file where several do."""
    import shapely

    x, y = _on_grid(place, grid)
    lots, notes = _read(layer, ids, grid, bounds=(x - 0.5, y - 0.5, x + 0.5, y + 0.5))
    lots = lots[shapely.intersects_xy(lots.geometry.to_numpy(), x, y)]
    if not len(lots):
        near, _ = _read(layer, ids, grid, bounds=grid.bounds)
        nearest = ""
        if len(near):
            distance = shapely.distance(near.geometry.to_numpy(), shapely.Point(x, y))
            row = int(np.argmin(distance))
            nearest = f"; the nearest is {near['lot_id'].iloc[row]}, {distance[row]:.1f} m away"
        raise InputError(
            "No lot holds the place asked for",
            got=f"latitude {place.lat}, longitude {place.lon}",
            expected=f"a place inside a lot of the {layer.title}{nearest}",
            mend="correct the place, name the lot by its id, or leave out the lots layer to screen a circle",
        )
    if len(lots) > 1:
        several = listed(lots["lot_id"])
        notes = (*notes, note(NoteKind.ASSUMED, NoteSubject.LOTS, NoteCode.LOT_FIRST_TAKEN, ids=several))
    return lots.iloc[:1], notes


def _circle(request: SiteRequest, grid: Grid) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    import geopandas as gpd
    import shapely

    if request.at is None:
        raise InputError(
            "There is nothing to screen",
            got="no lots layer and no place",
            expected="lots, or a latitude and longitude",
            mend="give a lots layer, or a place with --at",
        )
    if not 0.0 < request.radius_m < _RADIUS_MAX_M:
        raise InputError(
            "The radius cannot be used",
            got=f"{request.radius_m:g} m",
            expected=f"above 0, below {_RADIUS_MAX_M:,.0f} m",
            mend="correct --radius",
        )
    x, y = _on_grid(request.at, grid)
    circle = shapely.Point(x, y).buffer(request.radius_m, quad_segs=32)
    lots = gpd.GeoDataFrame({"lot_id": np.array([SITE_ID], dtype=object)}, geometry=[circle], crs=grid.crs)
    return lots, (note(NoteKind.ASSUMED, NoteSubject.LOTS, NoteCode.LOT_CIRCLE, radius_m=request.radius_m),)


def _on_grid(place: LatLon, grid: Grid) -> tuple[float, float]:
    x, y = lon_lat_to(grid.crs, place)
    west, south, east, north = grid.bounds
    if not (west <= x <= east and south <= y <= north):
        raise InputError(
            "The place asked for lies outside the elevation raster",
            got=f"latitude {place.lat}, longitude {place.lon}" + _distance_text(x, y, grid.bounds),
            expected="a place on the raster",
            mend="correct the place (--at, latitude first), or give a raster that covers it",
        )
    return x, y


def _distance_text(x: float, y: float, bounds: Bounds) -> str:
    west, south, east, north = bounds
    away = float(np.hypot(max(west - x, 0.0, x - east), max(south - y, 0.0, y - north)))
    if not np.isfinite(away):
        return ""
    return f", {away:,.0f} m away" if away < 1000.0 else f", {away / 1000:,.0f} km away"


def _overlap_notes(lots: gpd.GeoDataFrame) -> list[Note]:
    """Say which lots lie upon each other: their cells can belong to one of them only."""
    import shapely

    shapes = lots.geometry.to_numpy()
    first, second = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    first, second = first[first < second], second[first < second]
    shared_m2 = shapely.area(shapely.intersection(shapes[first], shapes[second]))
    is_shared = shared_m2 > _SHARED_FRAC * np.minimum(shapely.area(shapes[first]), shapely.area(shapes[second]))
    if not is_shared.any():
        return []
    names = lots["lot_id"].to_numpy()
    pairs = listed(f"{names[a]} and {names[b]}" for a, b in zip(first[is_shared], second[is_shared], strict=True))
    return [note(NoteKind.CAUTION, NoteSubject.LOTS, NoteCode.LOTS_OVERLAP, pairs=pairs)]


def _on_raster(lots: gpd.GeoDataFrame, grid: Grid) -> tuple[gpd.GeoDataFrame, list[Note]]:
    """Leave out lots wholly beyond the raster; say which lie partly beyond it."""
    import shapely

    shapes = lots.geometry.to_numpy()
    extent = shapely.box(*grid.bounds)
    inside_m2 = shapely.area(shapely.intersection(shapes, extent))
    is_on: Any = inside_m2 > 0.0
    if not is_on.any():
        raise InputError(
            "The lots lie outside the elevation raster",
            got=f"lots {listed(lots['lot_id'])}",
            expected="lots within the extent of the raster",
            mend="give a raster that covers them",
        )
    caution, notes = partial(note, NoteKind.CAUTION, NoteSubject.LOTS), []
    if not is_on.all():
        notes.append(caution(NoteCode.LOTS_LEFT_OUT, n_lots=(~is_on).sum(), ids=listed(lots["lot_id"][~is_on])))
    is_cut = is_on & (inside_m2 < 0.999 * shapely.area(shapes))
    if is_cut.any():
        notes.append(caution(NoteCode.LOTS_CUT, n_lots=is_cut.sum(), ids=listed(lots["lot_id"][is_cut])))
    return lots[is_on].reset_index(drop=True), notes
