"""How much water: the runoff that a rain gives on each cell by curve number."""

from __future__ import annotations

import numpy as np

from screening.models import F32, F64, Block, Note, Rain, Storm, Surface
from screening.schema.criteria import Criteria
from screening.storm.curve_numbers import curve_numbers, depends_on_soil, describe_ground, runoff_depth_mm
from screening.storm.rainfall_tables import return_period_words

WEIGHTED_Q_FLAG_FRAC = 0.10
"""Share by which runoff cell by cell may pass the runoff of the composite number before a note says so."""
_ANNUAL_MAXIMUM_MATTERS_YR = 25.0


def design_storm(block: Block, surface: Surface, *, rain: Rain, criteria: Criteria) -> Storm:
    """Give each cell its cover, its curve number and its runoff.

    Structures, driveways and roads are impervious (98), land cover lies under them, all else is open space in the
    stated condition by hydrologic group. An undrained dual group counts as D; so does an unknown group, as an upper
    bound of runoff, which a note says: it stays unknown for infiltration. Runoff is computed cell by cell, so a
    lot's is the mean of its cells' (weighted Q), not that of its composite curve number.

    Parameters
    ----------
    block, surface
        Of the same window.
    rain
        The storm's rain.
    criteria
        `lawn_condition`, `initial_abstraction_ratio`.

    Returns
    -------
    The storm.
    """
    ground = describe_ground(block, surface, lawn_condition=criteria.storm.lawn_condition)
    curve_number = curve_numbers(ground, lawn_condition=criteria.storm.lawn_condition)
    known = ~np.isnan(surface.routed_elev_m)
    ratio = criteria.storm.initial_abstraction_ratio
    runoff = np.where(known, runoff_depth_mm(rain.depth_mm, curve_number, ratio=ratio), 0.0)
    unknown = (ground.group == 0) & depends_on_soil(ground)
    share = float(unknown[known].mean()) if known.any() else 1.0
    notes = [*_rain_notes(rain), *ground.notes]
    if share > 0:
        text = f"soil group unknown on {share:.0%} of the window: its runoff is computed as group D, an upper bound"
        notes.append(Note("assumed", "runoff", text))
    curve_number = np.where(known, curve_number, np.nan).astype(np.float32)
    notes += _weighted_notes(block, curve_number, runoff, rain.depth_mm, ratio)
    return Storm(
        grid=block.grid,
        rain=rain,
        curve_number=curve_number,
        runoff_mm=runoff.astype(np.float32),
        ground=ground,
        notes=tuple(notes),
    )


def _rain_notes(rain: Rain) -> list[Note]:
    notes = []
    if rain.is_assumed:
        text = f"no storm was asked for: {rain.label} ({rain.depth_mm:.1f} mm) is taken, from {rain.source}"
        notes.append(Note("assumed", "storm", text))
    if rain.table is None or rain.return_period_yr is None:
        return notes
    if rain.is_duration_assumed:
        often = return_period_words(rain.return_period_yr, rain.table)
        text = f"the stated depth is taken to fall in {rain.duration_h:g} h: by the table it comes {often}"
        notes.append(Note("assumed", "storm", text))
    if rain.table.series == "annual maximum" and rain.return_period_yr < _ANNUAL_MAXIMUM_MATTERS_YR:
        text = (
            "the table is of annual maxima, which below 25 years give less rain than a partial duration series "
            "(6 % less at 2 years in one table seen): the partial duration table is the usual one for drainage"
        )
        notes.append(Note("caution", "storm", text))
    return notes


def _weighted_notes(block: Block, curve_number: F32, runoff: F64, rain_mm: float, ratio: float) -> list[Note]:
    """Say where cell-by-cell runoff and that of the composite number part: on lots of pavement and good lawns."""
    n_lots = len(block.lots)
    lot = block.lot_index
    inside = (lot > 0) & ~np.isnan(curve_number)
    count = np.bincount(lot[inside], minlength=n_lots + 1)[1:]
    numbers, depths = (
        np.bincount(lot[inside], weights=values[inside], minlength=n_lots + 1)[1:] for values in (curve_number, runoff)
    )
    is_known = count > 0
    by_composite = runoff_depth_mm(rain_mm, numbers[is_known] / count[is_known], ratio=ratio)
    by_cell = depths[is_known] / count[is_known]
    n_more = int((by_cell > (1.0 + WEIGHTED_Q_FLAG_FRAC) * by_composite).sum())
    if not n_more:
        return []
    text = (
        f"on {n_more} of {n_lots} lots the runoff, added up cell by cell (weighted Q), is over "
        f"{WEIGHTED_Q_FLAG_FRAC:.0%} more than their composite curve number would give; the larger is reported"
    )
    return [Note("caution", "runoff", text)]
