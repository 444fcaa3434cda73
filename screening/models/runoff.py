"""What covers the ground, and how its water gathers."""

from __future__ import annotations

from dataclasses import dataclass

from screening.grid import Grid
from screening.models.arrays import F32, F64, U8, freeze
from screening.models.notes import Note
from screening.schema.codes.storm import PeakCode


@dataclass(frozen=True, kw_only=True, eq=False)
class GroundCover:
    """Cover and soil group of each cell.

    Parameters
    ----------
    cover
        Position in `covers.COVERS` + 1, uint8.
    group
        Hydrologic group 1-4 = A-D, an undrained dual group as D; 0 = unknown, uint8.
    notes
        What was assumed.
    """

    grid: Grid
    cover: U8
    group: U8
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        freeze(self.cover, self.group)


@dataclass(frozen=True, kw_only=True, eq=False)
class Concentration:
    """How the water above each cell gathers: the same for every storm but for the rain that sheet flow takes.

    Parameters
    ----------
    time_of_concentration_h
        Longest travel time of the ground draining through the cell, at least the least time, float32 [h];
        NaN = no data.
    coefficient_area_m2
        Rational runoff coefficient times area, added up over that ground, float64 [m2].
    two_year_rain_mm
        The 2-year, 24-hour rain that sheet flow is computed with [mm].
    notes
        What was assumed.
    """

    grid: Grid
    time_of_concentration_h: F32
    coefficient_area_m2: F64
    two_year_rain_mm: float
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        freeze(self.time_of_concentration_h, self.coefficient_area_m2)


@dataclass(frozen=True, kw_only=True, eq=False)
class PeakFlows:
    """Peak flows of a storm at some places, all arrays float64 by place.

    Parameters
    ----------
    area_m2
        Ground that drains through the place [m2].
    time_of_concentration_h
        Of that ground [h]; NaN where no cell has data.
    runoff_coefficient
        Its mean rational coefficient; NaN by the graphical method.
    intensity_mm_h
        Rain intensity over that time [mm/h]; NaN by the graphical method.
    peak_m3_s
        [m3/s]; NaN = not assessed.
    code, limit
        By place: the method that found the peak, `rational`, or `graphical` where no intensity is known; or why it is
        not assessed, with the limit that stands in the way [ha or h], NaN where there is none.
    notes
        What was assumed.
    """

    area_m2: F64
    time_of_concentration_h: F64
    runoff_coefficient: F64
    intensity_mm_h: F64
    peak_m3_s: F64
    code: tuple[PeakCode, ...]
    limit: F64
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        freeze(self.area_m2, self.time_of_concentration_h, self.runoff_coefficient)
        freeze(self.intensity_mm_h, self.peak_m3_s, self.limit)
