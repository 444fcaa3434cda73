"""Every number of the simulation in one place, each with its unit, meaning and source."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

from screening.errors import CriteriaError

MEASURED = "measured: the checks of tests/motion"
COMMON_PRACTICE = "common practice"
_HAZARD = (
    "Australian Institute for Disaster Resilience 2017, Guideline 7-3 Flood Hazard (Handbook 7), general flood hazard "
    "vulnerability curves: classes H1 to H6; their limits from memory"
)
_CHOW = "between Chow 1959, Open-Channel Hydraulics, Table 5-6 (from memory) and TR-55 Table 3-1 of sheet flow"

HAZARD_LIMITS = ((0.3, 0.3, 2.0), (0.6, 0.5, 2.0), (0.6, 1.2, 2.0), (1.0, 2.0, 2.0), (4.0, 4.0, 4.0))
"""Most of depth x speed [m2/s], depth [m] and speed [m/s] of classes H1 to H5; above any of H5's is H6."""

ROUGHNESS_BY_WORD: tuple[tuple[str, float], ...] = (
    ("paved", 0.016), ("driveway", 0.016), ("roof", 0.016), ("commercial", 0.02), ("industrial", 0.02),
    ("gravel", 0.025), ("water", 0.02), ("dirt", 0.03), ("newly graded", 0.03), ("fallow", 0.03), ("desert", 0.035),
    ("developed", 0.04), ("residential", 0.04), ("farmstead", 0.04), ("row crops", 0.05), ("small grain", 0.05),
    ("pasture", 0.05), ("meadow", 0.06), ("wetland", 0.06), ("open space", 0.05), ("brush", 0.08), ("woods", 0.10),
)  # fmt: skip
"""Manning's n of shallow flow over each cover, by the word that its name begins with."""


@dataclass(frozen=True)
class Told:
    """What a number is: its unit, meaning, source, and the range it may have."""

    unit: str
    meaning: str
    source: str
    low: float
    high: float


SETTINGS: dict[str, Told] = {
    "own_weight": Told("", "weight of a face's own flow (theta), the rest its neighbours'", MEASURED, 0.7, 1.0),
    "courant": Told("", "Courant number of the step", MEASURED, 0.05, 0.7),
    "step_max_s_m": Told("s/m", "longest step, per metre of cell", MEASURED, 0.01, 1.0),
    "froude_max": Told("", "largest Froude number that a face lets through", MEASURED, 1.0, 10.0),
    "least_depth_m": Told("m", "water shallower than this over a crest does not flow", MEASURED, 1e-7, 1e-3),
    "speed_limit_m_s": Told("m/s", "a run in which water is faster is a failed run", MEASURED, 1.0, 50.0),
    "n_attempts": Told("", "runs that are tried, each with half the Courant number", COMMON_PRACTICE, 1, 5),
    "wet_depth_m": Told("m", "depth from which ground counts as wet", COMMON_PRACTICE, 0.001, 0.1),
    "speed_depth_m": Told("m", "shallower water is taken as so deep for its speed", MEASURED, 0.001, 0.1),
    "track_s": Told("s", "time between two looks at the maxima", MEASURED, 0.0, 60.0),
    "output_s": Told("s", "time between two outputs of series, balance and progress", COMMON_PRACTICE, 1.0, 3600.0),
    "span_s": Told("s", "time between two choices of the step", MEASURED, 0.1, 60.0),
    "after_rain_h": Told("h", "simulated after the rain ends", COMMON_PRACTICE, 0.0, 24.0),
    "whole_storm_h": Told("h", "longer storms are simulated for the hours that matter alone", COMMON_PRACTICE, 0.1, 96),
    "hours_max": Told("h", "most hours that are simulated of a longer storm", COMMON_PRACTICE, 0.5, 96.0),
    "active_frac": Told("", "hours matter while flow is above this share of its peak", COMMON_PRACTICE, 0.001, 0.9),
    "lead_s": Told("s", "time in which earlier runoff is poured, before maxima count", COMMON_PRACTICE, 60.0, 7200.0),
    "coarse_cells": Told("", "cells along a side of the grid that finds the hours, about", COMMON_PRACTICE, 10, 400),
    "pipe_m3_s": Told(
        "m3/s", "capacity of a pipe without one: a bore of 0.45 m that runs full at 2.5 m/s", COMMON_PRACTICE, 1e-4, 1e6
    ),
    "rain_step_min": Told("min", "step of the hyetograph", COMMON_PRACTICE, 0.5, 60.0),
    "driveway_cells_min": Told("", "cells that the width of a driveway must have", COMMON_PRACTICE, 1.0, 10.0),
    "driveway_cells_few": Told("", "cells below which a driveway counts as narrow", "layout of findings", 1.0, 20.0),
    "roughness_factor": Told("", "factor on every Manning's n, to try how much it matters", _CHOW, 0.2, 5.0),
    "ns_cell_step": Told("ns", "time for a cell and a step on one thread, for estimates", MEASURED, 0.1, 1e4),
    "signal_m_s": Told("m/s", "usual fastest signal, for estimates of the step", MEASURED, 0.1, 20.0),
}
"""What each field of `MotionSettings` is."""


@dataclass(frozen=True, kw_only=True)
class MotionSettings:
    """Numbers of the simulation; `SETTINGS` says what each is and where it comes from.

    Raises
    ------
    CriteriaError
        A number is outside its range: a Courant number above 0.7, for one, is unstable.
    """

    own_weight: float = 0.85
    courant: float = 0.6
    step_max_s_m: float = 0.5
    froude_max: float = 1.5
    least_depth_m: float = 1e-5
    speed_limit_m_s: float = 5.0
    n_attempts: int = 3
    wet_depth_m: float = 0.01
    speed_depth_m: float = 0.005
    track_s: float = 1.0
    output_s: float = 60.0
    span_s: float = 10.0
    after_rain_h: float = 1.0
    whole_storm_h: float = 3.0
    hours_max: float = 4.0
    active_frac: float = 0.10
    lead_s: float = 1800.0
    coarse_cells: int = 75
    pipe_m3_s: float = 0.40
    rain_step_min: float = 5.0
    driveway_cells_min: float = 1.5
    driveway_cells_few: float = 3.0
    roughness_factor: float = 1.0
    ns_cell_step: float = 6.0
    signal_m_s: float = 2.1

    def __post_init__(self) -> None:
        for each in fields(self):
            told, value = SETTINGS[each.name], getattr(self, each.name)
            if not told.low <= value <= told.high:
                raise CriteriaError(
                    f"The setting {each.name} ({told.meaning}) is out of its range",
                    got=f"{value:g}",
                    expected=f"{told.low:g} to {told.high:g} {told.unit}".rstrip(),
                )


def sources() -> dict[str, str]:
    """Where the numbers of the method come from, by name."""
    told: dict[str, Any] = {name: each.source for name, each in SETTINGS.items()}
    return told | {"hazard": _HAZARD, "roughness": _CHOW}


def roughness_of(cover_name: str) -> float:
    """Manning's n of a cover by its name.

    Raises
    ------
    CriteriaError
        No roughness is known for the cover.
    """
    found = [n for word, n in ROUGHNESS_BY_WORD if cover_name.startswith(word)]
    if not found:
        raise CriteriaError("A cover has no roughness", got=cover_name, mend="add it to motion.settings")
    return found[0]
