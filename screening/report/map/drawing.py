"""The form that draws proposed improvements on the map page: its kinds, numbers and names are those that are read."""

from __future__ import annotations

from typing import Any

import folium
from folium.elements import JSCSSMixin
from folium.template import Template

from screening.hydraulics.drain_site import CLASS_FOR_USE, LOAD_CLASS_KN
from screening.report.map.offline import json_for_script
from screening.schema.work_kinds import UNITS, Effect, FormGroup, ImprovementKind, Quantity, all_kinds
from screening.units import UnitSystem

_OFFERED: dict[UnitSystem, dict[Quantity, tuple[str, ...]]] = {
    "metric": {"length": ("_m", "_cm"), "elevation": ("_m",), "volume": ("_m3", "_l")},
    "us": {"length": ("_ft", "_in"), "elevation": ("_ft",), "volume": ("_ft3", "_gal")},
}
"""Units that the form offers; those of other quantities are the same in both."""
_SYMBOLS = {
    "_m": "m",
    "_cm": "cm",
    "_ft": "ft",
    "_in": "in",
    "_m3": "m³",
    "_l": "L",
    "_ft3": "cu ft",
    "_gal": "gal",
    "_pct": "%",
    "_deg": "°",
    "_frac": "0 to 1",
}
_SHARE = ("_pct",)
_CHOICES: dict[str, tuple[str, tuple[str, ...]]] = {
    "use": ("Heaviest that comes onto it", tuple(CLASS_FOR_USE)),
    "load_class": ("Load class of the grate", tuple(LOAD_CLASS_KN)),
    "has_overflow_path": ("Water it does not take has a safe way on", ("yes", "no")),
    "has_discharge_permission": ("The discharge is permitted", ("yes", "no")),
}


_DRIVEWAY = ImprovementKind(
    kind="driveway", label="Driveway, to study", shapes=("polygon",), group=FormGroup.PLACES, effect=Effect.PLACE
)


class DrawScript(JSCSSMixin):
    """Hands the folium map and the form to the script that draws improvements."""

    _template = Template(
        "{% macro script(this, kwargs) %}"
        "screeningPages.drawImprovements({{ this._parent.get_name() }}, {{ this.form }});{% endmacro %}"
    )
    default_js = [("leaflet_geoman", "leaflet-geoman.min.js")]  # noqa: RUF012  (folium's own form)
    default_css = [("screening_draw_css", "draw.css")]  # noqa: RUF012

    def __init__(self, form: dict[str, Any]) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        self.form = json_for_script(form)


def add_drawing(view: folium.Map, units: UnitSystem) -> None:
    """Add the tool that draws improvements to a map, its numbers in the reader's units."""
    view.add_child(DrawScript(form_of(units)))


def form_of(units: UnitSystem) -> dict[str, Any]:
    """Kinds, shapes and properties as the form reads them; a driveway to study is drawn like the others."""
    kinds = [_kind(kind, units) for kind in (*all_kinds().values(), _DRIVEWAY)]
    return {
        "improvements": {
            "name": "improvements.geojson",
            "command": "screening site ... --improvements improvements.geojson",
        },
        "driveways": {"name": "driveways.geojson", "command": "screening driveway ... --driveways driveways.geojson"},
        "outlet": "outlet",
        "kinds": kinds,
    }


def _kind(kind: ImprovementKind, units: UnitSystem) -> dict[str, Any]:
    return {
        "kind": kind.kind,
        "label": kind.label,
        "group": kind.group,
        "shapes": list(kind.shapes),
        "leads": "to" in kind.words,
        "needs_outlet": kind.kind == "trench_drain",
        "takes_water": kind.kind in ("outlet", "storage"),
        "needs_level_or_slope": kind.kind == "regrade",
        "is_studied": kind is _DRIVEWAY,
        "prefix": "D-" if kind is _DRIVEWAY else "W-",
        "has_structure": "structure_id" in kind.words,
        "numbers": [
            {
                "label": number.label,
                "is_needed": number.is_needed,
                # Property name and the unit behind the box, the first offered first.
                "names": [[number.name + ending, _SYMBOLS[ending]] for ending in _endings(number.quantity, units)],
                "limits": {
                    number.name + ending: [
                        number.low / UNITS[number.quantity][ending],
                        number.high / UNITS[number.quantity][ending],
                    ]
                    for ending in _endings(number.quantity, units)
                },
            }
            for number in kind.numbers
        ],
        "choices": [[name, *_CHOICES[name]] for name in kind.words if name in _CHOICES],
    }


def _endings(quantity: Quantity, units: UnitSystem) -> tuple[str, ...]:
    if quantity == "share":
        return _SHARE
    return _OFFERED[units].get(quantity) or tuple(UNITS[quantity])
