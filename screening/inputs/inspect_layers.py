"""What a vector layer is and what is wrong with it."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any

from screening.grid import Grid
from screening.inputs.inspected import Draft
from screening.inputs.raster.metre_crs import crs_name
from screening.inputs.vector.barriers import BARRIER_ID_NAMES, DOWNSPOUT_ID_NAMES
from screening.inputs.vector.context import DRIVEWAY_ID_NAMES, STRUCTURE_ID_NAMES
from screening.inputs.vector.doors import DOOR_ID_NAMES
from screening.inputs.vector.drains import DRAIN_ID_NAMES
from screening.inputs.vector.geometries import listed
from screening.inputs.vector.ids import find_column
from screening.inputs.vector.layers import open_layer
from screening.inputs.vector.lot_ids import LOT_ID_NAMES
from screening.inputs.vector.lots import choose_lots, load_lots
from screening.inputs.vector.soils import GROUP_NAMES
from screening.models import Note, SiteRequest, note
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject

if TYPE_CHECKING:
    import geopandas as gpd

_DETECTED = {
    NoteSubject.LOTS: ("ids from", LOT_ID_NAMES),
    NoteSubject.STRUCTURES: ("ids from", STRUCTURE_ID_NAMES),
    NoteSubject.DRIVEWAYS: ("ids from", DRIVEWAY_ID_NAMES),
    NoteSubject.DRAINS: ("ids from", DRAIN_ID_NAMES),
    NoteSubject.BARRIERS: ("ids from", BARRIER_ID_NAMES),
    NoteSubject.DOWNSPOUTS: ("ids from", DOWNSPOUT_ID_NAMES),
    NoteSubject.DOORS: ("ids from", DOOR_ID_NAMES),
    NoteSubject.SOILS: ("groups from", GROUP_NAMES),
}
_MOST_FEATURES = 200_000


def inspect_lots(request: SiteRequest, grid: Grid | None) -> Draft:
    """Look at the lots, and at which of them are asked for."""
    draft = Draft(subject=NoteSubject.LOTS, path=request.lots or "")
    if spec := request.lots:
        crs = grid.crs if grid is not None else ""
        load = partial(load_lots, spec, crs=crs, bounds=None, id_field=request.lot_id_field)
        draft.attempt(partial(layer_facts, draft, load, grid, request.lot_id_field))
    chosen = draft.attempt(lambda: choose_lots(request, grid)) if grid is not None and not draft.errors else None
    if chosen is not None:
        lots, notes = chosen
        draft.facts["lots to screen"] = f"{len(lots)} ({listed(lots['lot_id'])})"
        draft.add(notes)
    return draft


def layer_facts(
    draft: Draft, load: Callable[[], tuple[Any, tuple[Note, ...]]], grid: Grid | None, stated: str | None
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
    draft.add(notes)
    if not on_raster:
        draft.add([note(NoteKind.CAUTION, draft.subject, NoteCode.NOT_ON_RASTER)])


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
