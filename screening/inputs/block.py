"""From a request to a block: the site, and windows of everything on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from screening.grid import Bounds, Grid
from screening.inputs.raster.beyond import check_context, open_context_elevation
from screening.inputs.raster.elevation import ElevationSource, open_elevation
from screening.inputs.raster.land_cover import load_land_cover
from screening.inputs.raster.windows import read_elevation
from screening.inputs.vector.barriers import load_barriers, load_downspouts
from screening.inputs.vector.context import (
    assign_lots,
    load_driveways,
    load_lines,
    load_polygons,
    load_structures,
    load_wells,
)
from screening.inputs.vector.doors import load_doors
from screening.inputs.vector.drains import load_drains
from screening.inputs.vector.impervious import driveways_from_impervious
from screening.inputs.vector.layers import open_layer
from screening.inputs.vector.levels import drop_strange_levels
from screening.inputs.vector.lots import choose_lots, load_lots
from screening.inputs.vector.soils import load_soils
from screening.models import Block, Note, SiteRequest, merge_notes, note
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject

if TYPE_CHECKING:
    import geopandas as gpd

_Loaded: TypeAlias = "tuple[gpd.GeoDataFrame, tuple[Note, ...]]"

LAYERS = (
    "structures",
    "driveways",
    "roads",
    "soils",
    "drains",
    "wells",
    "septic",
    "barriers",
    "downspouts",
    "doors",
    "wetlands",
    "utilities",
    "trees",
)
"""Layers beside the lots, in the order they are read."""
_COLUMNS: dict[str, dict[str, str]] = {
    "structures": {"structure_id": "object", "lot_id": "object", "kind": "object"},
    "driveways": {"driveway_id": "object", "lot_id": "object", "kind": "object"},
    "roads": {},
    "soils": {
        "mukey": "object",
        "hsg": "object",
        "ksat_mm_h": "float64",
        "water_depth_m": "float64",
        "restrictive_depth_m": "float64",
    },
    "drains": {
        "drain_id": "object",
        "kind": "object",
        "invert_up_m": "float64",
        "invert_down_m": "float64",
        "depth_m": "float64",
    },
    "wells": {},
    "septic": {},
    "barriers": {"barrier_id": "object", "kind": "object", "height_m": "float64"},
    "downspouts": {"downspout_id": "object", "structure_id": "object"},
    "doors": {"door_id": "object", "kind": "object", "structure_id": "object", "sill_elev_m": "float64"},
    "wetlands": {},
    "utilities": {},
    "trees": {},
}


@dataclass(frozen=True, kw_only=True, eq=False)
class Site:
    """What a request means: the raster and the chosen lots, before any window is read.

    Parameters
    ----------
    request
        As given.
    elevation
        The raster and its metre grid.
    lots
        `lot_id` (unique text) and polygons of the chosen lots, in the CRS of the grid.
    context_elevation
        The coarser raster around, in the same CRS, if there is one.
    notes
        What was assumed, converted or repaired so far.
    """

    request: SiteRequest
    elevation: ElevationSource
    lots: gpd.GeoDataFrame
    notes: tuple[Note, ...] = ()
    context_elevation: ElevationSource | None = None


def open_site(request: SiteRequest) -> Site:
    """Find the raster and the lots of a request.

    Raises
    ------
    InputError
        A raster or the lots cannot be used; the message says how to mend it.
    """
    elevation, context = open_rasters(request)
    lots, notes = choose_lots(request, elevation.grid)
    return Site(
        request=request,
        elevation=elevation,
        lots=lots,
        notes=merge_notes(elevation.notes, notes),
        context_elevation=context,
    )


def open_rasters(request: SiteRequest) -> tuple[ElevationSource, ElevationSource | None]:
    """Open the elevation of a request, and the coarser one around it if there is one.

    Raises
    ------
    InputError
        A raster cannot be used.
    """
    elevation = open_elevation(request.elevation, vertical_unit=request.vertical_unit)
    context = open_context_elevation(request, crs=elevation.grid.crs)
    if context is not None:
        check_context(context, elevation.grid)
    return elevation, context


def open_layers(request: SiteRequest) -> None:
    """Open every vector layer of a request without reading its features.

    Raises
    ------
    InputError
        One cannot be opened, or has no CRS.
    """
    for name in LAYERS:
        if getattr(request, name):
            open_layer(str(getattr(request, name)), subject=name)


def load_block(site: Site, bounds: Bounds) -> Block:
    """Load a window of elevation with everything that falls in it.

    Parameters
    ----------
    site
        From `open_site`.
    bounds
        West, south, east, north [m] in the CRS of the site's grid; cut at the extent of the raster.

    Returns
    -------
    The block, with the chosen lots that meet the window.

    Raises
    ------
    InputError
        The window lies outside the raster or is too large, or a layer cannot be used.
    """
    request = site.request
    grid, elev_m, data_sides, elevation_notes = read_elevation(site.elevation, bounds)
    specs = {name: getattr(request, name) for name in LAYERS}
    loaded: dict[str, _Loaded] = {
        name: load_layer(name, request, site.elevation, bounds=grid.bounds) if spec else _absent(name, grid)
        for name, spec in specs.items()
    }
    layers = {name: frame for name, (frame, _) in loaded.items()}
    impervious_notes: tuple[Note, ...] = ()
    if request.impervious:
        layers["driveways"], impervious_notes = driveways_from_impervious(
            request.impervious,
            crs=grid.crs,
            bounds=grid.bounds,
            structures=layers["structures"],
            roads=layers["roads"],
            driveways=layers["driveways"],
        )
        if not request.driveways:
            loaded["driveways"] = (layers["driveways"], ())
    _assign(site, layers)
    level_notes = drop_strange_levels(layers, grid, elev_m)
    given = frozenset(name for name in ("lots", *LAYERS, "land_cover") if getattr(request, name))
    given |= {"driveways"} if request.impervious else set()
    cover, cover_notes = load_land_cover(request, grid) if request.land_cover else (None, ())
    no_lots = () if request.lots else (_no_layer(NoteSubject.LOTS),)
    return Block(
        grid=grid,
        elev_m=elev_m,
        lots=_inflow_cell(site.lots, grid),
        **layers,
        data_sides=data_sides,
        given=given,
        notes=merge_notes(
            site.notes,
            elevation_notes,
            no_lots,
            *(notes for _, notes in loaded.values()),
            impervious_notes,
            level_notes,
            cover_notes,
        ),
        cover=cover,
    )


def load_layer(
    name: str, request: SiteRequest, elevation: ElevationSource, *, bounds: Bounds | None
) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    """Read one of the layers beside the lots.

    Parameters
    ----------
    name
        One of `LAYERS`, given in the request.
    request, elevation
        Where it is, and what its columns and units mean.
    bounds
        Window in the CRS of the elevation grid [m]; None = everywhere.
    """
    spec, crs = str(getattr(request, name)), elevation.grid.crs
    if name == "structures":
        return load_structures(spec, crs=crs, bounds=bounds)
    if name == "driveways":
        return load_driveways(spec, crs=crs, bounds=bounds)
    if name == "soils":
        return load_soils(spec, crs=crs, bounds=bounds, group_field=request.soil_group_field)
    if name == "drains":
        return load_drains(spec, crs=crs, bounds=bounds, vertical_unit=elevation.vertical_unit)
    if name == "barriers":
        return load_barriers(spec, crs=crs, bounds=bounds)
    if name == "downspouts":
        return load_downspouts(spec, crs=crs, bounds=bounds)
    if name == "doors":
        return load_doors(spec, crs=crs, bounds=bounds, vertical_unit=elevation.vertical_unit)
    if name == "wells":
        return load_wells(spec, crs=crs, bounds=bounds)
    if name == "utilities":
        return load_lines(spec, crs=crs, bounds=bounds, subject=name)
    return load_polygons(spec, crs=crs, bounds=bounds, subject=name)


def _absent(name: str, grid: Grid) -> _Loaded:
    """Make an empty layer with its columns, and say what cannot be assessed without it."""
    import geopandas as gpd

    columns = {column: np.zeros(0, dtype=dtype) for column, dtype in _COLUMNS[name].items()}
    frame = gpd.GeoDataFrame(columns, geometry=[], crs=grid.crs)
    return frame, (_no_layer(NoteSubject(name)),)


def _no_layer(layer: NoteSubject) -> Note:
    return note(NoteKind.MISSING, layer, NoteCode.NO_LAYER, layer=layer)


def _assign(site: Site, layers: Mapping[str, gpd.GeoDataFrame]) -> None:
    """Give structures and driveways their lot among all lots around them, chosen or not."""
    owned = [layers[name] for name in ("structures", "driveways") if len(layers[name])]
    if not owned:
        return
    extents = np.array([frame.total_bounds for frame in owned])
    (west, south), (east, north) = extents[:, :2].min(axis=0), extents[:, 2:].max(axis=0)
    around = (float(west), float(south), float(east), float(north))
    lots = site.lots
    if site.request.lots:
        crs, field = site.elevation.grid.crs, site.request.lot_id_field
        lots, _ = load_lots(site.request.lots, crs=crs, bounds=around, id_field=field)
    chosen = frozenset(site.lots["lot_id"])
    for frame in owned:
        frame["lot_id"] = assign_lots(frame, lots, chosen=chosen)


def _inflow_cell(lots: gpd.GeoDataFrame, grid: Grid) -> gpd.GeoDataFrame:
    import shapely

    meets = shapely.intersects(lots.geometry.to_numpy(), shapely.box(*grid.bounds))
    return lots[meets].reset_index(drop=True)
