"""What each input is and what is wrong with it, before anything is screened."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path

from screening.grid import Grid
from screening.inputs.block import LAYERS, load_layer
from screening.inputs.inspect_layers import inspect_lots, layer_facts
from screening.inputs.inspect_rasters import inspect_context, raster_facts
from screening.inputs.inspected import Draft, Inspected
from screening.inputs.raster.elevation import open_elevation
from screening.inputs.raster.land_cover import describe_land_cover
from screening.inputs.tables.rainfall import read_rainfall
from screening.models import RainfallTable, SiteRequest, note
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from screening.schema.codes.storm import Series
from screening.storm.rainfall_tables import rain_depth_mm


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
    elevation = Draft(subject=NoteSubject.ELEVATION, path=str(request.elevation))
    source = elevation.attempt(lambda: open_elevation(request.elevation, vertical_unit=request.vertical_unit))
    elevation.attempt(lambda: raster_facts(elevation, source))
    drafts = [elevation]
    if request.context_elevation is not None:
        drafts.append(inspect_context(request, source.grid if source is not None else None))
    grid = source.grid if source is not None else None
    if request.lots or source is not None:
        drafts.append(inspect_lots(request, grid))
    for name in LAYERS:
        if spec := getattr(request, name):
            draft = Draft(subject=NoteSubject(name), path=str(spec))
            load = partial(load_layer, name, request, source, bounds=None)
            stated = request.soil_group_field if draft.subject is NoteSubject.SOILS else None
            draft.attempt(partial(layer_facts, draft, load, grid, stated))
            drafts.append(draft)
    if request.land_cover:
        drafts.append(_land_cover(request, grid))
    if rainfall is not None:
        drafts.append(_rainfall(rainfall))
    why_not = "; ".join(f"{draft.subject}: {error}" for draft in drafts for error in draft.errors)
    return Inspection(tuple(draft.done() for draft in drafts), not why_not, why_not)


def _land_cover(request: SiteRequest, grid: Grid | None) -> Draft:
    draft = Draft(subject=NoteSubject.LAND_COVER, path=str(request.land_cover))
    found = draft.attempt(lambda: describe_land_cover(request, grid))
    if found is not None:
        facts, notes = found
        draft.facts |= facts
        draft.add(notes)
    return draft


def _rainfall(path: Path | str) -> Draft:
    draft = Draft(subject=NoteSubject.RAINFALL, path=str(path))
    table = draft.attempt(lambda: read_rainfall(path))
    if table is not None:
        draft.facts |= {
            "says of itself": table.source,
            "series": table.series,
            "durations": f"{len(table.durations_h)}, {table.durations_h[0]:g} to {table.durations_h[-1]:g} h",
            "return periods": ", ".join(f"{years:g}" for years in table.return_periods_yr) + " yr",
            "24 hours": _daily_words(table),
        }
        if table.series is Series.ANNUAL_MAXIMUM:
            draft.add([note(NoteKind.CAUTION, draft.subject, NoteCode.TABLE_OF_MAXIMA)])
    return draft


def _daily_words(table: RainfallTable) -> str:
    """Say the rain of a day by return period, in the table's own periods."""
    if not table.durations_h[0] <= 24.0 <= table.durations_h[-1]:
        return "not in the table"
    depths = [
        (years, rain_depth_mm(table, return_period_yr=years, duration_h=24.0)) for years in table.return_periods_yr
    ]
    return ", ".join(f"{years:g} yr {depth:.0f} mm" for years, depth in depths)
