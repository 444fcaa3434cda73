"""The rain of a screening, from a table and a storm, a typed depth, or nothing."""

from __future__ import annotations

import dataclasses
from pathlib import Path

from screening.errors import InputError
from screening.models import Rain
from screening.schema.criteria import Criteria

DEFAULT_STORM = "10yr-24h"


def choose_rain(
    *,
    rainfall: Path | None = None,
    storm: str | None = None,
    rain_mm: float | None = None,
    criteria: Criteria,
) -> Rain:
    """Settle the rain of a screening from what was given.

    Parameters
    ----------
    rainfall, storm
        A point precipitation table, and a storm in it such as `10yr-24h`, which is also the default.
    rain_mm
        A typed depth instead [mm]; with a table its return period as a rain of 24 hours is known.
    criteria
        `assumed_rain_mm`, where nothing was given.

    Returns
    -------
    The rain, marked as assumed where it was not asked for.

    Raises
    ------
    InputError
        Both or neither can be used.
    """
    from screening.inputs import read_rainfall
    from screening.storm.rainfall_tables import rain_of_depth, rain_of_storm

    if rain_mm is not None:
        if storm is not None:
            raise InputError("Both a storm and a rain depth were given", mend="give --storm, or --rain-in or --rain-mm")
        if not 0 < rain_mm <= 2000:
            raise InputError(
                "The rain depth cannot be used",
                got=f"{rain_mm:g} mm",
                expected="more than 0, up to 2000 mm",
                mend="correct --rain-in or --rain-mm",
            )
        return rain_of_depth(rain_mm, read_rainfall(rainfall) if rainfall is not None else None)
    if rainfall is not None:
        rain = rain_of_storm(read_rainfall(rainfall), storm or DEFAULT_STORM)
        return rain if storm else dataclasses.replace(rain, is_assumed=True)
    if storm is not None:
        raise InputError(
            "A storm was given without a rainfall table",
            got=storm,
            mend="add --rainfall FILE, or give --rain-in or --rain-mm",
        )
    depth = criteria.storm.assumed_rain_mm
    return Rain(depth_mm=depth, label="assumed depth", source="criteria, assumed_rain_mm", is_assumed=True)
