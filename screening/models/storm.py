"""A rain, and the runoff it gives."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from screening.grid import Grid
from screening.models.arrays import F32, F64, freeze
from screening.models.notes import Note
from screening.models.request import Rain
from screening.models.runoff import GroundCover


@dataclass(frozen=True, kw_only=True, eq=False)
class Storm:
    """A rain, and the runoff it gives on each cell.

    Parameters
    ----------
    rain
        Depth, name and source.
    curve_number
        Per cell, float32; NaN = no data.
    runoff_mm
        Per cell, float32 [mm].
    ground_cover
        The cover and soil group that they follow from.
    """

    grid: Grid
    rain: Rain
    curve_number: F32
    runoff_mm: F32
    ground_cover: GroundCover
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        freeze(self.curve_number, self.runoff_mm)

    @cached_property
    def runoff_m3(self) -> F64:
        """Runoff of each cell alone, float64 (n_rows, n_cols) [m3]; 0 = no data; read-only."""
        volume: F64 = np.nan_to_num(self.runoff_mm.astype(np.float64)) * (self.grid.cell_area_m2 / 1000.0)
        freeze(volume)
        return volume
