"""The map: one HTML page that works with no network, with its findings, tables and limits as text."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from screening.errors import InputError
from screening.models import BlockResult
from screening.report.both_units import merge_units
from screening.units import UNIT_SYSTEMS, UnitSystem

if TYPE_CHECKING:
    from screening.report.map.layers import PageLayer

MAX_TITLE_CHARS = 160
Corners = tuple[tuple[float, float], tuple[float, float]]


def build_map(
    result: BlockResult,
    *,
    units: UnitSystem = "metric",
    title: str = "",
    provenance: Mapping[str, Any] | None = None,
    basemap_url: str | None = None,
    basemap_attribution: str | None = None,
    focus: str = "lots",
    more_cautions: Mapping[UnitSystem, Sequence[str]] | None = None,
) -> str:
    """Build the map page of a screening.

    Parameters
    ----------
    result
        What was found.
    units
        What readers see first; the page has a switch. Limits of classes are round in these.
    title
        Of the page; empty = made from the lots.
    provenance
        Name and value of what the reader must know of the data, such as the date; shown as text.
    basemap_url, basemap_attribution
        Address of map tiles with `{z}`, `{x}`, `{y}`, and whose they are. Off until the reader switches them
        on; without them the page can reach nothing.
    more_cautions
        By units: put before those of every page.
    focus
        Layer that fills the map at first.

    Returns
    -------
    HTML, the same to the byte for the same input.

    Raises
    ------
    InputError
        The base map address cannot be used or has no attribution.
    OutputError
        A page part is missing.
    """
    from screening.report.findings import clip_text, sort_verdicts
    from screening.report.map.content import PageContent, map_images, shown_units, storm_water
    from screening.report.map.drawing import add_drawing
    from screening.report.map.offline import OfflineFigure, json_for_script, new_map
    from screening.report.map.packed_terrain import packed_terrain

    basemap = _check_basemap(basemap_url, basemap_attribution)
    images, relief_note = map_images(result, units)
    terrain = packed_terrain(result)
    make = partial(
        PageContent,
        result=result,
        verdicts=sort_verdicts(result.verdicts),
        classes_in=units,
        provenance=provenance,
        relief_note=relief_note,
        has_basemap=basemap is not None,
        more_cautions=more_cautions or {},
        outlines={},
    )
    told = {system: make(units=system) for system in UNIT_SYSTEMS}
    view = _view(told[units].layers, focus)
    payload = merge_units(told["metric"].payload(), told["us"].payload(), units)
    payload |= {
        "units": units,
        "shown": {system: shown_units(system) for system in UNIT_SYSTEMS},
        "view": view,
        "images": images,
        "basemap": basemap,
        "ground": terrain,
    }
    for storm, water in zip(
        payload["storms"], storm_water(result, units, with_terrain=terrain is not None), strict=True
    ):
        storm |= water
    body = merge_units(told["metric"].body(), told["us"].body(), units)
    heading = clip_text(title or _default_title(result), MAX_TITLE_CHARS)
    fields = body | {"payload": json_for_script(payload), "units": units}
    figure = OfflineFigure(heading, fields, image_hosts=(basemap["host"],) if basemap else ())
    drawn = new_map(figure, center=((view[0][0] + view[1][0]) / 2, (view[0][1] + view[1][1]) / 2))
    add_drawing(drawn, units)
    return figure.render()


def _default_title(result: BlockResult) -> str:
    lots = result.summary
    return f"Water around lot {lots['lot_id'].iloc[0]}" if len(lots) == 1 else f"Water around {len(lots)} lots"


def _check_basemap(url: str | None, attribution: str | None) -> dict[str, str] | None:
    if not url:
        return None
    parts = urlsplit(url)
    host = parts.netloc.replace("{s}", "*")
    # The host goes into the page's security policy, so nothing but a plain host may pass.
    is_plain = re.fullmatch(r"(\*\.)?[A-Za-z0-9-]+(\.[A-Za-z0-9-]+)*(:\d+)?", host)
    is_named = all(f"{{{name}}}" in url for name in "zxy")
    if parts.scheme not in ("http", "https") or not is_plain or not is_named:
        raise InputError(
            "The base map address cannot be used",
            got=url,
            expected="http or https, a host, and {z}, {x} and {y} in the path",
            mend="correct --basemap-url",
        )
    if not attribution:
        raise InputError("The base map has no attribution", got=url, mend="give --basemap-attribution")
    return {"url": url, "host": f"{parts.scheme}://{host}", "attribution": attribution}


def _view(layers: list[PageLayer], focus: str) -> Corners:
    from shapely import total_bounds
    from shapely.geometry import shape

    shown = {layer.kind.key: [feature["g"] for feature in layer.features if feature["g"]] for layer in layers}
    west, south, east, north = total_bounds([shape(outline) for outline in shown.get(focus) or shown["lots"]])
    return (float(south), float(west)), (float(north), float(east))
