"""Desk screening of water problems around houses, from open elevation and parcel data."""

from __future__ import annotations

from importlib import import_module
from typing import Any

# Names are loaded when first used: the command line must answer before geopandas could be imported.
_HOME = {
    "BlockResult": "screening.models",
    "Criteria": "screening.criteria",
    "CriteriaError": "screening.errors",
    "InputError": "screening.errors",
    "LatLon": "screening.models",
    "OutputError": "screening.errors",
    "Rain": "screening.models",
    "Screening": "screening.site",
    "ScreeningError": "screening.errors",
    "SiteRequest": "screening.models",
    "WorksScreening": "screening.works_site",
    "choose_rain": "screening.chosen_rain",
    "demo_request": "screening.samples",
    "inspect_inputs": "screening.inputs",
    "load_block": "screening.inputs",
    "open_site": "screening.inputs",
    "read_criteria": "screening.inputs",
    "read_rainfall": "screening.inputs",
    "read_works": "screening.inputs",
    "screen_block": "screening.pipeline",
    "screen_site": "screening.site",
    "try_works": "screening.works_site",
    "write_outputs": "screening.report",
}

__all__ = list(_HOME)
__version__ = "0.1.0"


def __getattr__(name: str) -> Any:
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'screening' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *_HOME])
