"""What the map page holds, told in one unit system; and its pictures, which are the same in both."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from screening.models import BlockResult, StormFindings, Verdict
from screening.report.cautions import CAUTIONS, TAGLINE, all_cautions
from screening.report.findings import (
    clip_text,
    format_cell,
    outcome_words,
    rain_words,
    sort_notes,
)
from screening.report.map import text as page_text
from screening.report.map.layers import Outlines, PageLayer
from screening.report.words.notes import note_words
from screening.schema.layers import all_tables
from screening.units import UnitSystem

if TYPE_CHECKING:
    import pandas as pd

    from screening.report.map.text import Place

_MAP_UNITS = ("m", "m2", "pct")
"""Units in which the page's own tools answer."""


@dataclass(frozen=True, kw_only=True)
class PageContent:
    """The page in one unit system.

    Parameters
    ----------
    result
        What was found.
    verdicts
        In the order in which they are shown.
    units
        What it is told in.
    classes_in
        Units in which limits of classes are round.
    provenance
        Name and value of what the reader must know of the data.
    relief_note
        What to know of the shaded relief.
    has_basemap
        Whether there is a switch for an online base map.
    more_cautions
        By units: put before those of every page.
    outlines
        As for `layers.make_layer`: one dict for the same content in both systems of units.
    """

    result: BlockResult
    verdicts: list[Verdict]
    units: UnitSystem
    classes_in: UnitSystem
    provenance: Mapping[str, Any] | None
    relief_note: str
    has_basemap: bool
    more_cautions: Mapping[UnitSystem, Sequence[str]] = field(default_factory=dict)
    outlines: Outlines = field(default_factory=dict)

    @cached_property
    def layers(self) -> list[PageLayer]:
        """Vector layers, with the verdicts of their features."""
        from screening.report.map.layers import build_layers

        layers = build_layers(self.result, self.units, classes_in=self.classes_in, outlines=self.outlines)
        _attach_verdicts(layers, self.verdicts, page_text.places_of(layers))
        return layers

    @cached_property
    def _places(self) -> dict[tuple[str, str], Place]:
        return page_text.places_of(self.layers)

    @cached_property
    def _findings(self) -> dict[str, Any]:
        return page_text.findings_list(self.result, self.verdicts, self._places, self.units)

    def body(self) -> dict[str, Any]:
        """Fields of the page's template."""
        result, units = self.result, self.units
        return {
            "tagline": TAGLINE,
            "limit": CAUTIONS[0],
            "storm": rain_words(result.storm.rain, units),
            "storms": [rain_words(storm.rain, units) for storm in _storms(result)],
            "groups": page_text.layer_groups(self.layers, has_basemap=self.has_basemap),
            "relief_note": self.relief_note,
            "findings": self._findings,
            "table": page_text.lots_table(result, units),
            "checks": page_text.checks_list(self.verdicts, self._places, result.criteria, units),
            "notes": [
                (note.kind, clip_text(note.subject), clip_text(note_words(note))) for note in sort_notes(result.notes)
            ],
            "cautions": [
                clip_text(line) for line in (*self.more_cautions.get(units, ()), *all_cautions(result, units))
            ],
            "data": page_text.data_rows(result, self.provenance, units),
            "meanings": page_text.meanings(self.layers, units),
        }

    def payload(self) -> dict[str, Any]:
        """Data of the page's script that depend on units."""
        return {
            "tagline": TAGLINE,
            "layers": [layer.payload() for layer in self.layers],
            "ranks": [[item["index"], item["rank"]] for item in self._findings["items"]],
            "verdicts": [
                # Their words stand once, in the list of all checks.
                {
                    "at": page_text.own_place_of(verdict, self._places),
                    "is_passed": outcome_words(verdict)[1] == "passed",
                }
                for verdict in self.verdicts
            ],
            "storms": [
                {"name": rain_words(self.result.storm.rain, self.units), "values": {}},
                *(self._further(storm) for storm in self.result.further_storms),
            ],
        }

    def _further(self, storm: StormFindings) -> dict[str, Any]:
        tables = {"low_spots": storm.low_spots, "structures": storm.structures}
        values = {key: _shown_columns(key, table, self.units) for key, table in tables.items()}
        return {"name": rain_words(storm.storm.rain, self.units), "values": values}


def _shown_columns(name: str, table: pd.DataFrame, units: UnitSystem) -> dict[str, list[str]]:
    known = {column.name: column for column in all_tables()[name]}
    return {
        field: [format_cell(value, known[field], units) for value in table[field]]
        for field in table.columns
        if known[field].kind == "number"
    }


def _storms(result: BlockResult) -> list[Any]:
    return [result.storm, *(further.storm for further in result.further_storms)]


def _attach_verdicts(layers: list[PageLayer], verdicts: list[Verdict], places: Mapping[tuple[str, str], Place]) -> None:
    features = {(layer.kind.key, index): f for layer in layers for index, f in enumerate(layer.features)}
    for number, verdict in enumerate(verdicts):
        holders = (page_text.place_of(verdict, places), places.get(("lots", verdict.lot_id)))
        for holder in dict.fromkeys(place for place in holders if place):
            features[holder]["d"].append(number)


def shown_units(units: UnitSystem) -> dict[str, dict[str, Any]]:
    """Give what turns numbers into text in the units in which the page's own tools answer."""
    from screening.units import shown_unit

    shown = {unit: shown_unit(unit, units) for unit in _MAP_UNITS}
    return {
        unit: {
            "factor": how.factor,
            "symbol": how.symbol,
            "decimals": how.decimals,
            "is_joined": how.symbol in "%°",
        }
        for unit, how in shown.items()
    }


def map_images(result: BlockResult, classes_in: UnitSystem) -> tuple[list[dict[str, Any]], str]:
    """Make the pictures of the map, and what to know of the relief."""
    from screening.report.map.images import depth_image, exaggeration_of, relief_image

    grid, elev_m, classes = result.block.grid, result.surface.elev_m, _depth_classes(classes_in)
    pictures = {
        "relief": relief_image(elev_m, grid),
        "low_spots": depth_image(result.depressions.depth_m, grid, **classes),
        "storm_water": depth_image(result.ponding.water_depth_m, grid, **classes),
    }
    stretch = exaggeration_of(elev_m, grid.cell_m)
    note = f"heights stretched {stretch:.0f} times" if stretch > 1 else "heights not stretched"
    return [{"key": key, "url": shot.url, "bounds": shot.bounds} for key, shot in pictures.items()], note


def storm_water(result: BlockResult, classes_in: UnitSystem, *, with_terrain: bool) -> list[dict[str, str]]:
    """Standing water of each storm: a picture of all but the first; packed depths where the page has the ground."""
    from screening.report.map.images import depth_image
    from screening.report.map.packed_terrain import cut_of, pack_depth

    grid, classes = result.block.grid, _depth_classes(classes_in)
    cut = cut_of(result) if with_terrain else None
    waters = [result.ponding.water_depth_m, *(further.ponding.water_depth_m for further in result.further_storms)]
    return [
        {
            "url": depth_image(water, grid, **classes).url if number else "",
            "depth": pack_depth(cut.of(water)) if cut else "",
        }
        for number, water in enumerate(waters)
    ]


def _depth_classes(classes_in: UnitSystem) -> dict[str, Any]:
    from screening.schema.styles import DEPTH_BREAKS_M, DEPTH_COLORS

    return {"breaks_m": DEPTH_BREAKS_M[classes_in], "colors": DEPTH_COLORS}
