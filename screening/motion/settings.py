"""Every number of the simulation in one place, each with its unit, meaning and source."""

from __future__ import annotations

from dataclasses import dataclass, fields

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
    ("paved", 0.016),
    ("driveway", 0.016),
    ("roof", 0.016),
    ("commercial", 0.02),
    ("industrial", 0.02),
    ("gravel", 0.025),
    ("water", 0.02),
    ("dirt", 0.03),
    ("newly graded", 0.03),
    ("fallow", 0.03),
    ("desert", 0.035),
    ("developed", 0.04),
    ("residential", 0.04),
    ("farmstead", 0.04),
    ("row crops", 0.05),
    ("small grain", 0.05),
    ("pasture", 0.05),
    ("meadow", 0.06),
    ("wetland", 0.06),
    ("open space", 0.05),
    ("brush", 0.08),
    ("woods", 0.10),
)
"""Manning's n of shallow flow over each cover, by the word that its name begins with."""


@dataclass(frozen=True, kw_only=True)
class Told:
    """What a number is: its unit, meaning, source, and the range it may have."""

    unit: str
    meaning: str
    source: str
    low: float
    high: float


SETTINGS: dict[str, Told] = {
    "own_weight": Told(
        unit="",
        meaning="weight of a face's own flow (theta), the rest its neighbours'",
        source=MEASURED,
        low=0.7,
        high=1.0,
    ),
    "courant": Told(unit="", meaning="Courant number of the step", source=MEASURED, low=0.05, high=0.7),
    "step_max_s_m": Told(unit="s/m", meaning="longest step, per metre of cell", source=MEASURED, low=0.01, high=1.0),
    "froude_max": Told(
        unit="", meaning="largest Froude number that a face lets through", source=MEASURED, low=1.0, high=10.0
    ),
    "least_depth_m": Told(
        unit="m", meaning="water shallower than this over a crest does not flow", source=MEASURED, low=1e-7, high=1e-3
    ),
    "speed_limit_m_s": Told(
        unit="m/s", meaning="a run in which water is faster is a failed run", source=MEASURED, low=1.0, high=50.0
    ),
    "n_attempts": Told(
        unit="", meaning="runs that are tried, each with half the Courant number", source=COMMON_PRACTICE, low=1, high=5
    ),
    "wet_depth_m": Told(
        unit="m", meaning="depth from which ground counts as wet", source=COMMON_PRACTICE, low=0.001, high=0.1
    ),
    "speed_depth_m": Told(
        unit="m", meaning="shallower water is taken as so deep for its speed", source=MEASURED, low=0.001, high=0.1
    ),
    "track_s": Told(unit="s", meaning="time between two looks at the maxima", source=MEASURED, low=0.0, high=60.0),
    "output_s": Told(
        unit="s",
        meaning="time between two outputs of series, balance and progress",
        source=COMMON_PRACTICE,
        low=1.0,
        high=3600.0,
    ),
    "span_s": Told(unit="s", meaning="time between two choices of the step", source=MEASURED, low=0.1, high=60.0),
    "after_rain_h": Told(unit="h", meaning="simulated after the rain ends", source=COMMON_PRACTICE, low=0.0, high=24.0),
    "whole_storm_h": Told(
        unit="h",
        meaning="longer storms are simulated for the hours that matter alone",
        source=COMMON_PRACTICE,
        low=0.1,
        high=96,
    ),
    "hours_max": Told(
        unit="h", meaning="most hours that are simulated of a longer storm", source=COMMON_PRACTICE, low=0.5, high=96.0
    ),
    "active_frac": Told(
        unit="",
        meaning="hours matter while flow is above this share of its peak",
        source=COMMON_PRACTICE,
        low=0.001,
        high=0.9,
    ),
    "lead_s": Told(
        unit="s",
        meaning="time in which earlier runoff is poured, before maxima count",
        source=COMMON_PRACTICE,
        low=60.0,
        high=7200.0,
    ),
    "coarse_cells": Told(
        unit="",
        meaning="cells along a side of the grid that finds the hours, about",
        source=COMMON_PRACTICE,
        low=10,
        high=400,
    ),
    "pipe_m3_s": Told(
        unit="m3/s",
        meaning="capacity of a pipe without one: a bore of 0.45 m that runs full at 2.5 m/s",
        source=COMMON_PRACTICE,
        low=1e-4,
        high=1e6,
    ),
    "rain_step_min": Told(unit="min", meaning="step of the hyetograph", source=COMMON_PRACTICE, low=0.5, high=60.0),
    "driveway_cells_min": Told(
        unit="", meaning="cells that the width of a driveway must have", source=COMMON_PRACTICE, low=1.0, high=10.0
    ),
    "driveway_cells_few": Told(
        unit="",
        meaning="cells below which a driveway counts as narrow",
        source="layout of findings",
        low=1.0,
        high=20.0,
    ),
    "roughness_factor": Told(
        unit="", meaning="factor on every Manning's n, to try how much it matters", source=_CHOW, low=0.2, high=5.0
    ),
    "ns_cell_step": Told(
        unit="ns", meaning="time for a cell and a step on one thread, for estimates", source=MEASURED, low=0.1, high=1e4
    ),
    "signal_m_s": Told(
        unit="m/s", meaning="usual fastest signal, for estimates of the step", source=MEASURED, low=0.1, high=20.0
    ),
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
    told = {name: str(each.source) for name, each in SETTINGS.items()}
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
