"""What each input is and what is wrong with it, before anything is screened."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.errors import ScreeningError
from screening.grid import Grid
from screening.inputs.block import LAYERS, load_layer
from screening.inputs.raster.beyond import check_context, open_context_elevation
from screening.inputs.raster.cells import MAX_CELLS, open_raster, read_cells
from screening.inputs.raster.elevation import ElevationSource, open_elevation
from screening.inputs.raster.heights import check_heights
from screening.inputs.raster.land_cover import describe_land_cover
from screening.inputs.raster.metre_crs import crs_name
from screening.inputs.tables.rainfall import read_rainfall
from screening.inputs.vector.barriers import BARRIER_ID_NAMES, DOWNSPOUT_ID_NAMES
from screening.inputs.vector.context import DRIVEWAY_ID_NAMES, STRUCTURE_ID_NAMES
from screening.inputs.vector.doors import DOOR_ID_NAMES
from screening.inputs.vector.drains import DRAIN_ID_NAMES
from screening.inputs.vector.geometries import listed
from screening.inputs.vector.ids import find_column
from screening.inputs.vector.layers import open_layer
from screening.inputs.vector.lots import LOT_ID_NAMES, choose_lots, load_lots
from screening.inputs.vector.soils import GROUP_NAMES
from screening.models import F32, Note, RainfallTable, SiteRequest, merge_notes
from screening.storm.rainfall_tables import rain_depth_mm

if TYPE_CHECKING:
    import geopandas as gpd

_DETECTED = {
    "lots": ("ids from", LOT_ID_NAMES),
    "structures": ("ids from", STRUCTURE_ID_NAMES),
    "driveways": ("ids from", DRIVEWAY_ID_NAMES),
    "drains": ("ids from", DRAIN_ID_NAMES),
    "barriers": ("ids from", BARRIER_ID_NAMES),
    "downspouts": ("ids from", DOWNSPOUT_ID_NAMES),
    "doors": ("ids from", DOOR_ID_NAMES),
    "soils": ("groups from", GROUP_NAMES),
}
_LOOK_CELLS = 1000
_LOOK_WINDOWS = 5
_LOOK_WINDOW = 200
_MOST_FEATURES = 200_000


@dataclass(frozen=True, kw_only=True)
class Inspected:
    """One input.

    Parameters
    ----------
    subject
        elevation, lots, structures, ... or rainfall.
    path
        As it was given.
    ok
        It can be used.
    facts
        What it is: text by label.
    defects
        What is wrong with it or was assumed, in words.
    """

    subject: str
    path: str
    ok: bool
    facts: dict[str, str]
    defects: tuple[str, ...]


@dataclass(frozen=True)
class Inspection:
    """All inputs of a request.

    Parameters
    ----------
    items
        One an input.
    can_run
        A screening of the request can start.
    why_not
        What stands against it, in words; empty if nothing does.
    """

    items: tuple[Inspected, ...]
    can_run: bool
    why_not: str


@dataclass(kw_only=True)
class _Draft:
    subject: str
    path: str
    facts: dict[str, str] = field(default_factory=dict)
    defects: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)

    def attempt(self, step: Callable[[], Any]) -> Any:
        """Run a step; what goes wrong becomes a defect."""
        try:
            return step()
        except ScreeningError as problem:
            self.errors.append(str(problem))
        except Exception as problem:  # A file broken in a way no reader foresees is still a finding, not a crash.
            self.errors.append(f"It cannot be read: {type(problem).__name__}: {problem}")
        return None

    def done(self) -> Inspected:
        """Close the finding."""
        defects = tuple(dict.fromkeys([*self.errors, *self.defects]))
        return Inspected(
            subject=self.subject, path=self.path, ok=not self.errors, facts=dict(self.facts), defects=defects
        )


def inspect_inputs(request: SiteRequest, *, rainfall: Path | str | None = None) -> Inspection:
    """Look at every input of a request; nothing is raised for a bad one.

    Parameters
    ----------
    request
        Files, and lots or place.
    rainfall
        Point precipitation table, if there is one.

    Returns
    -------
    What each input is, whether a screening can run, and why not.
    """
    elevation = _Draft(subject="elevation", path=str(request.elevation))
    source = elevation.attempt(lambda: open_elevation(request.elevation, vertical_unit=request.vertical_unit))
    elevation.attempt(lambda: _raster_facts(elevation, source))
    drafts = [elevation]
    if request.context_elevation is not None:
        drafts.append(_context(request, source.grid if source is not None else None))
    grid = source.grid if source is not None else None
    if request.lots or source is not None:
        drafts.append(_lots(request, grid))
    for name in LAYERS:
        if spec := getattr(request, name):
            draft = _Draft(subject=name, path=str(spec))
            load = partial(load_layer, name, request, source, bounds=None)
            stated = request.soil_group_field if name == "soils" else None
            draft.attempt(partial(_layer_facts, draft, load, grid, stated))
            drafts.append(draft)
    if request.land_cover:
        drafts.append(_land_cover(request, grid))
    if rainfall is not None:
        drafts.append(_rainfall(rainfall))
    why_not = "; ".join(f"{draft.subject}: {error}" for draft in drafts for error in draft.errors)
    return Inspection(tuple(draft.done() for draft in drafts), not why_not, why_not)


def _raster_facts(draft: _Draft, source: ElevationSource | None) -> None:
    with open_raster(Path(draft.path)) as raster:
        draft.facts |= {
            "format": str(raster.driver),
            "size": f"{raster.height:,} rows x {raster.width:,} columns",
            "pixels": f"{raster.dtypes[0]}, {raster.count} band(s)",
            "no data tag": "none" if raster.nodata is None else f"{raster.nodata:g}",
            "unit tag of the band": raster.units[0] or "none",
        }
    if source is None:
        return
    grid = source.grid
    width_m, height_m = grid.n_cols * grid.cell_m, grid.n_rows * grid.cell_m
    draft.facts |= {
        "CRS": crs_name(source.source_crs),
        "screened in": crs_name(grid.crs),
        "cell size": f"{grid.cell_m:.3f} m, " + ("resampled" if source.is_resampled else "cells as in the file"),
        "covers": f"{width_m:,.0f} m x {height_m:,.0f} m",
        "vertical unit": source.vertical_unit,
    }
    elev_m, sampled, notes = _look(source)
    is_known = np.isfinite(elev_m)
    draft.facts["no data"] = f"{100.0 * (1.0 - is_known.mean()):.2f} %{sampled}"
    if is_known.any():
        draft.facts["elevation"] = f"{np.nanmin(elev_m):,.2f} to {np.nanmax(elev_m):,.2f} m{sampled}"
    elif sampled:
        draft.defects.append(f"no elevation was found{sampled}; whether there is any on the lots is not known")
    else:
        draft.errors.append("The raster holds no elevation. To mend it: give a raster with data.")
    draft.defects += _texts((*source.notes, *notes))
    if not sampled:
        _note_heights(draft, source, elev_m)


def _note_heights(draft: _Draft, source: ElevationSource, elev_m: F32) -> None:
    """Say of a raster looked at whole that it holds what no ground has: it may lie beyond the window of a screening."""
    try:
        check_heights(elev_m, name=source.path.name, unit=source.vertical_unit, cell_m=source.grid.cell_m)
    except ScreeningError as problem:
        draft.defects.append(str(problem))


def _context(request: SiteRequest, fine: Grid | None) -> _Draft:
    draft = _Draft(subject="context elevation", path=str(request.context_elevation))
    crs = fine.crs if fine is not None else None
    source = draft.attempt(lambda: open_context_elevation(request, crs=crs))
    draft.attempt(lambda: _raster_facts(draft, source))
    notes = draft.attempt(lambda: check_context(source, fine)) if source is not None and fine is not None else None
    draft.defects += _texts(notes or ())
    return draft


def _look(source: ElevationSource) -> tuple[F32, str, tuple[Note, ...]]:
    """Look at all cells of a small raster, every so many of a larger one, a few windows of one larger than memory.

    Returns
    -------
    Elevations [m], what part of the raster they are in words (empty = all), notes.
    """
    path, cells = source.path, source.cells
    whole = (cells.n_rows, cells.n_cols)
    with open_raster(path) as raster:
        has_overviews = bool(raster.overviews(1))
    if cells.n_rows * cells.n_cols <= MAX_CELLS or has_overviews:
        look = (min(cells.n_rows, _LOOK_CELLS), min(cells.n_cols, _LOOK_CELLS))
        elev_m, notes = read_cells(path, cells, row=0, col=0, shape=whole, out_shape=look)
        return elev_m, "" if look == whole else f" (of {look[0]} x {look[1]} cells looked at)", notes
    # Without overviews, every so many cells means every tile of the file.
    shape = (min(cells.n_rows, _LOOK_WINDOW), min(cells.n_cols, _LOOK_WINDOW))
    rows, cols = (
        np.linspace(0, n - part, _LOOK_WINDOWS).astype(int).tolist() for n, part in zip(whole, shape, strict=True)
    )
    looks = [read_cells(path, cells, row=row, col=col, shape=shape) for row in rows for col in cols]
    sampled = f" (of {len(looks)} windows of {shape[0]} x {shape[1]} cells)"
    return np.stack([elev_m for elev_m, _ in looks]), sampled, merge_notes(*(notes for _, notes in looks))


def _lots(request: SiteRequest, grid: Grid | None) -> _Draft:
    draft = _Draft(subject="lots", path=request.lots or "")
    if spec := request.lots:
        crs = grid.crs if grid is not None else ""
        load = partial(load_lots, spec, crs=crs, bounds=None, id_field=request.lot_id_field)
        draft.attempt(partial(_layer_facts, draft, load, grid, request.lot_id_field))
    chosen = draft.attempt(lambda: choose_lots(request, grid)) if grid is not None and not draft.errors else None
    if chosen is not None:
        lots, notes = chosen
        draft.facts["lots to screen"] = f"{len(lots)} ({listed(lots['lot_id'])})"
        draft.defects += _texts(notes)
    return draft


def _layer_facts(
    draft: _Draft, load: Callable[[], tuple[Any, tuple[Note, ...]]], grid: Grid | None, stated: str | None
) -> None:
    """State what a layer is; `stated` is the column that the request names for it."""
    import shapely

    layer = open_layer(draft.path, subject=draft.subject)
    draft.facts |= {
        "features": f"{layer.n_features:,}" if layer.n_features >= 0 else "not declared",
        "geometry": layer.geometry_type,
        "CRS": crs_name(layer.crs.to_wkt()),
        "columns": ", ".join(layer.fields) or "none",
    }
    if draft.subject in _DETECTED:
        label, names = _DETECTED[draft.subject]
        draft.facts[label] = stated or find_column(layer.fields, names) or "no usual column"
    if grid is None or layer.n_features > _MOST_FEATURES:
        draft.facts["geometries checked"] = "no: " + ("no usable elevation" if grid is None else "too many features")
        return
    frame, notes = load()
    draft.facts["usable"] = f"{len(frame):,}"
    draft.facts |= _column_facts(frame)
    on_raster = int(shapely.intersects(frame.geometry.to_numpy(), shapely.box(*grid.bounds)).sum())
    draft.facts["on the elevation raster"] = f"{on_raster:,} of {len(frame):,}"
    draft.defects += _texts(notes)
    if not on_raster:
        draft.defects.append("nothing of it lies on the elevation raster")


def _column_facts(frame: gpd.GeoDataFrame) -> dict[str, str]:
    """Count the soil groups and kinds, and the inverts that are given."""
    facts = {}
    for column in ("hsg", "kind"):
        if column in frame:
            counts = frame[column].value_counts().sort_index()
            facts[column] = ", ".join(f"{value} {number}" for value, number in counts.items())
    for column in ("invert_up_m", "invert_down_m"):
        if column in frame:
            facts[column] = f"{int(frame[column].notna().sum())} given"
    return facts


def _land_cover(request: SiteRequest, grid: Grid | None) -> _Draft:
    draft = _Draft(subject="land cover", path=str(request.land_cover))
    found = draft.attempt(lambda: describe_land_cover(request, grid))
    if found is not None:
        facts, defects = found
        draft.facts |= facts
        draft.defects += defects
    return draft


def _rainfall(path: Path | str) -> _Draft:
    draft = _Draft(subject="rainfall", path=str(path))
    table = draft.attempt(lambda: read_rainfall(path))
    if table is not None:
        draft.facts |= {
            "says of itself": table.source,
            "series": table.series,
            "durations": f"{len(table.durations_h)}, {table.durations_h[0]:g} to {table.durations_h[-1]:g} h",
            "return periods": ", ".join(f"{years:g}" for years in table.return_periods_yr) + " yr",
            "24 hours": _daily_words(table),
        }
        if table.series == "annual maximum":
            draft.defects.append("annual maxima give less rain than a partial duration series below 25 years")
    return draft


def _daily_words(table: RainfallTable) -> str:
    """Say the rain of a day by return period, in the table's own periods."""
    if not table.durations_h[0] <= 24.0 <= table.durations_h[-1]:
        return "not in the table"
    depths = [
        (years, rain_depth_mm(table, return_period_yr=years, duration_h=24.0)) for years in table.return_periods_yr
    ]
    return ", ".join(f"{years:g} yr {depth:.0f} mm" for years, depth in depths)


def _texts(notes: tuple[Note, ...]) -> list[str]:
    """Keep what a reader may have to mend: a mere conversion is no defect."""
    return [note.text for note in notes if note.kind != "converted"]
