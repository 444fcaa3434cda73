"""How much water: the runoff that a rain gives on each cell by curve number."""

from __future__ import annotations

import numpy as np

from screening.models import F32, F64, Block, Note, Rain, Storm, Surface, note
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from screening.schema.codes.storm import Series
from screening.schema.criteria import Criteria
from screening.storm.curve_numbers import curve_numbers, depends_on_soil, describe_cover, runoff_depth_mm

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
    ground_cover = describe_cover(block, surface, lawn_condition=criteria.storm.lawn_condition)
    curve_number = curve_numbers(ground_cover, lawn_condition=criteria.storm.lawn_condition)
    known = ~np.isnan(surface.routed_elev_m)
    ratio = criteria.storm.initial_abstraction_ratio
    runoff = np.where(known, runoff_depth_mm(rain.depth_mm, curve_number, ratio=ratio), 0.0)
    unknown = (ground_cover.group == 0) & depends_on_soil(ground_cover)
    share = float(unknown[known].mean()) if known.any() else 1.0
    notes = [*_rain_notes(rain), *ground_cover.notes]
    if share > 0:
        notes.append(note(NoteKind.ASSUMED, NoteSubject.RUNOFF, NoteCode.SOIL_GROUP_UNKNOWN, share_frac=share))
    curve_number = np.where(known, curve_number, np.nan).astype(np.float32)
    notes += _weighted_notes(block, curve_number, runoff, rain.depth_mm, ratio)
    return Storm(
        grid=block.grid,
        rain=rain,
        curve_number=curve_number,
        runoff_mm=runoff.astype(np.float32),
        ground_cover=ground_cover,
        notes=tuple(notes),
    )


def _rain_notes(rain: Rain) -> list[Note]:
    notes = []
    if rain.is_assumed:
        notes.append(
            note(
                NoteKind.ASSUMED,
                NoteSubject.STORM,
                NoteCode.RAIN_ASSUMED,
                label=rain.label,
                depth_mm=rain.depth_mm,
                source=rain.source,
            )
        )
    if rain.table is None or rain.return_period_yr is None:
        return notes
    if rain.is_duration_assumed:
        notes.append(
            note(
                NoteKind.ASSUMED,
                NoteSubject.STORM,
                NoteCode.RAIN_DURATION_ASSUMED,
                duration_h=rain.duration_h,
                return_period_yr=rain.return_period_yr,
                first_yr=rain.table.return_periods_yr[0],
                last_yr=rain.table.return_periods_yr[-1],
            )
        )
    if rain.table.series is Series.ANNUAL_MAXIMUM and rain.return_period_yr < _ANNUAL_MAXIMUM_MATTERS_YR:
        notes.append(note(NoteKind.CAUTION, NoteSubject.STORM, NoteCode.RAIN_OF_MAXIMA))
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
    return [
        note(
            NoteKind.CAUTION,
            NoteSubject.RUNOFF,
            NoteCode.RUNOFF_WEIGHTED,
            n_more=n_more,
            n_lots=n_lots,
            more_frac=WEIGHTED_Q_FLAG_FRAC,
        )
    ]
