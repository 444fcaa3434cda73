"""The sample neighbourhood: where its files are, and what the demo asks of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from screening.errors import InputError
from screening.models import Rain, SiteRequest
from screening.schema.criteria import Criteria
from screening.site.chosen_rain import DEFAULT_STORM, choose_rain


def samples_dir() -> Path:
    """Find the sample neighbourhood, beside the package in a checkout or inside it when installed.

    Raises
    ------
    InputError
        It is in neither place.
    """
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "data_samples", package.parent / "data_samples"):
        if (folder / "elevation.tif").is_file():
            return folder
    raise InputError(
        "The sample data are missing", got=str(package), mend="install the package again, or run from a clone"
    )


def demo_rains(criteria: Criteria) -> tuple[Rain, ...]:
    """Rains of the sample neighbourhood: that of the checks and tables, then two to compare."""
    table = samples_dir() / "rainfall.csv"
    storms = (DEFAULT_STORM, "2yr-24h", "100yr-24h")
    return tuple(choose_rain(rainfall=table, storm=storm, criteria=criteria) for storm in storms)


def demo_request() -> SiteRequest:
    """Ask for all lots of the sample neighbourhood."""
    from screening.inputs import LAYERS

    folder = samples_dir()
    files = {name: folder / f"{name}.geojson" for name in ("lots", *LAYERS)}
    layers: dict[str, Any] = {name: str(path) for name, path in files.items() if path.is_file()}
    return SiteRequest(elevation=folder / "elevation.tif", **layers)
