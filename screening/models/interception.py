"""Lines across driveways that keep water from walls."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import geopandas as gpd

    from screening.models.findings import Verdict


@dataclass(frozen=True, eq=False)
class Interception:
    """Candidate lines across driveways that shed to walls, with the ways out of a drain in them.

    Parameters
    ----------
    lines
        By driveway, the best first: see `columns.INTERCEPTION_COLUMNS`.
    outlets
        Pipes from the outlet ends of lines that have an outfall by gravity: see `columns.DRAIN_OUTLET_COLUMNS`.
    verdicts
        Checks of the lines, and of the trench drain that is tried in the best.
    """

    lines: gpd.GeoDataFrame
    outlets: gpd.GeoDataFrame
    verdicts: tuple[Verdict, ...] = ()
