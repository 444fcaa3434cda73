"""Desk screening of water problems around houses, from open elevation and parcel data."""

from __future__ import annotations

from importlib import import_module
from typing import Any

# Names are loaded when first used: the command line must answer before geopandas could be imported.
_HOME = {
    "BlockResult": "screening.models",
    "Criteria": "screening.schema.criteria",
    "CriteriaError": "screening.errors",
    "InputError": "screening.errors",
    "LatLon": "screening.models",
    "OutputError": "screening.errors",
    "Rain": "screening.models",
    "Screening": "screening.site.screen",
    "ScreeningError": "screening.errors",
    "SiteRequest": "screening.models",
    "ImprovementScreening": "screening.site.try_improvements",
    "choose_rain": "screening.site.chosen_rain",
    "demo_request": "screening.site.samples",
    "inspect_inputs": "screening.inputs",
    "load_block": "screening.inputs",
    "open_site": "screening.inputs",
    "read_criteria": "screening.inputs",
    "read_rainfall": "screening.inputs",
    "read_improvements": "screening.inputs",
    "screen_block": "screening.pipeline",
    "screen_site": "screening.site.screen",
    "try_improvements": "screening.site.try_improvements",
    "write_outputs": "screening.report",
}

__all__ = list(_HOME)
__version__ = "0.2.0"


def __getattr__(name: str) -> Any:
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'screening' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *_HOME])
