"""The map: one HTML page that works with no network, with its findings, tables and limits as text."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from screening.errors import InputError
from screening.models import BlockResult, Verdict
from screening.report.cautions import TAGLINE, all_cautions
from screening.units import UnitSystem

if TYPE_CHECKING:
    from screening.report.layers import PageLayer
    from screening.report.page_text import Place

MAX_TITLE_CHARS = 160
Corners = tuple[tuple[float, float], tuple[float, float]]


def build_map(
    result: BlockResult, *, units: UnitSystem = "metric", title: str = "",
    provenance: Mapping[str, Any] | None = None, basemap_url: str | None = None,
    basemap_attribution: str | None = None,
) -> str:  # fmt: skip
    """Build the map page of a screening.

    Parameters
    ----------
    result
        What was found.
    units
        What readers see.
    title
        Of the page; empty = made from the lots.
    provenance
        Name and value of what the reader must know of the data, such as the date; shown as text.
    basemap_url, basemap_attribution
        Address of map tiles with `{z}`, `{x}`, `{y}`, and whose they are. Off until the reader switches them
        on; without them the page can reach nothing.

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
    from screening.report import page_text
    from screening.report.drawing import add_drawing
    from screening.report.findings import clip_text, rain_words, sort_notes, sort_verdicts
    from screening.report.offline import OfflineFigure, json_for_script, new_map
    from screening.report.switches import build_layers

    basemap = _check_basemap(basemap_url, basemap_attribution)
    layers = build_layers(result, units)
    verdicts = sort_verdicts(result.verdicts)
    places = page_text.places_of(layers)
    _attach_verdicts(layers, verdicts, places)
    images, relief_note = _images(result, units)
    view = _view(layers)
    body = {
        "tagline": TAGLINE,
        "storm": rain_words(result.storm.rain, units),
        "layers": [layer.kind for layer in layers],
        "relief_note": relief_note,
        "has_basemap": basemap is not None,
        "findings": page_text.findings_list(result, verdicts, places, units),
        "table": page_text.lots_table(result, units),
        "checks": page_text.checks_list(verdicts, places, units),
        "notes": [(note.kind, clip_text(note.subject), clip_text(note.text)) for note in sort_notes(result.notes)],
        "cautions": [clip_text(line) for line in all_cautions(result, units)],
        "data": page_text.data_rows(result, provenance, units),
        "meanings": page_text.meanings(layers, units),
        "payload": json_for_script(_payload(layers, images, verdicts, view, basemap, units)),
    }
    heading = clip_text(title or _default_title(result), MAX_TITLE_CHARS)
    figure = OfflineFigure(heading, body, image_hosts=(basemap["host"],) if basemap else ())
    drawn = new_map(figure, center=((view[0][0] + view[1][0]) / 2, (view[0][1] + view[1][1]) / 2))
    add_drawing(drawn, units)
    return figure.render()


def _payload(
    layers: list[PageLayer], images: list[dict[str, Any]], verdicts: list[Verdict], view: Corners,
    basemap: dict[str, str] | None, units: UnitSystem,
) -> dict[str, Any]:  # fmt: skip
    from screening.report.findings import background_words, comparison_words, outcome_words, subject_words

    return {
        "units": units,
        "tagline": TAGLINE,
        "view": view,
        "images": images,
        "layers": [layer.payload() for layer in layers],
        "verdicts": [
            [
                *outcome_words(verdict)[::-1],
                subject_words(verdict),
                comparison_words(verdict, units),
                background_words(verdict),
            ]
            for verdict in verdicts
        ],
        "basemap": basemap,
    }


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
            "The base map address cannot be used", got=url,
            expected="http or https, a host, and {z}, {x} and {y} in the path", mend="correct --basemap-url",
        )  # fmt: skip
    if not attribution:
        raise InputError("The base map has no attribution", got=url, mend="give --basemap-attribution")
    return {"url": url, "host": f"{parts.scheme}://{host}", "attribution": attribution}


def _images(result: BlockResult, units: UnitSystem) -> tuple[list[dict[str, Any]], str]:
    from screening.report.images import depth_image, exaggeration_of, relief_image
    from screening.report.styles import DEPTH_BREAKS_M, DEPTH_COLORS

    grid, ground = result.block.grid, result.surface.elev_m
    classes: dict[str, Any] = {"breaks_m": DEPTH_BREAKS_M[units], "colors": DEPTH_COLORS}
    pictures = {
        "relief": relief_image(ground, grid),
        "low_spots": depth_image(result.depressions.depth_m, grid, **classes),
        "storm_water": depth_image(result.ponding.water_depth_m, grid, **classes),
    }
    stretch = exaggeration_of(ground, grid.cell_m)
    note = f"heights stretched {stretch:.0f} times" if stretch > 1 else "heights not stretched"
    return [{"key": key, "url": shot.url, "bounds": shot.bounds} for key, shot in pictures.items()], note


def _attach_verdicts(layers: list[PageLayer], verdicts: list[Verdict], places: Mapping[tuple[str, str], Place]) -> None:
    from screening.report.page_text import place_of

    features = {(layer.kind.key, index): f for layer in layers for index, f in enumerate(layer.features)}
    for number, verdict in enumerate(verdicts):
        holders = (place_of(verdict, places), places.get(("lots", verdict.lot_id)))
        for holder in dict.fromkeys(place for place in holders if place):
            features[holder]["d"].append(number)


def _view(layers: list[PageLayer]) -> Corners:
    from shapely import total_bounds
    from shapely.geometry import shape

    lots = next(layer for layer in layers if layer.kind.key == "lots")
    west, south, east, north = total_bounds([shape(lot["g"]) for lot in lots.features if lot["g"]])
    return (float(south), float(west)), (float(north), float(east))
