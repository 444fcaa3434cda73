"""What a run was, and what it found, as values."""

from __future__ import annotations

from collections.abc import Sequence
from types import MappingProxyType

import numpy as np

from screening.models.motion import MotionLimit, RunRecord, Simulation
from screening.motion.forcing import Forcing
from screening.motion.ground import MotionGround
from screening.motion.hazard import hazard_classes
from screening.motion.hours import Hours
from screening.motion.links import Link
from screening.motion.reached import Place, PlaceRecorder, reach_places
from screening.motion.settings import MotionSettings, sources
from screening.motion.supply import Solved

HOUR_S = 3600.0
_ALWAYS = (
    MotionLimit.NO_BORES,
    MotionLimit.FROUDE_CAPPED,
    MotionLimit.NO_RUN_ON_LOSS,
    MotionLimit.NO_ENTRY,
    MotionLimit.NO_BACKWATER_FROM_BEYOND,
    MotionLimit.NO_UNSEEN_INLETS,
    MotionLimit.NO_ELEVATION_ERROR,
    MotionLimit.ROUGHNESS_BY_COVER,
    MotionLimit.NO_OBJECTS_BELOW_A_CELL,
)


def limits_of(
    forcing: Forcing,
    hours: Hours,
    links: Sequence[Link],
    *,
    is_narrow: bool,
    has_inflow: bool,
    has_assumed_pipe: bool,
) -> tuple[MotionLimit, ...]:
    """Say what this run is not, as codes."""
    told = {
        MotionLimit.ASSUMED_PIPE_CAPACITY: has_assumed_pipe,
        MotionLimit.UNLIMITED_DRAINS: any(np.isinf(link.capacity_m3_s) for link in links),
        MotionLimit.INFLOW_TIME_BY_AREA: has_inflow,
        MotionLimit.EARLY_RUNOFF_POURED: _supplied_m3(forcing, 0.0, hours.start_s) > 0,
        MotionLimit.LATER_RUNOFF_LEFT_OUT: _supplied_m3(forcing, hours.end_s, np.inf) > 0,
        MotionLimit.NARROW_DRIVEWAYS: is_narrow,
    }
    return (*_ALWAYS, *(limit for limit, applies in told.items() if applies))


def _supplied_m3(forcing: Forcing, start_s: float, end_s: float) -> float:
    return forcing.runoff_m3(start_s, end_s) + forcing.inflow_m3(start_s, end_s)


def record_of(forcing: Forcing, hours: Hours, solved: Solved, estimated_s: float, seconds: float) -> RunRecord:
    """Record how a run went: its hours, steps, water and time."""
    total = _supplied_m3(forcing, 0.0, np.inf)
    return RunRecord(
        start_h=hours.start_s / HOUR_S,
        end_h=hours.end_s / HOUR_S,
        early_runoff_frac=_supplied_m3(forcing, 0.0, hours.start_s) / total,
        later_runoff_frac=_supplied_m3(forcing, hours.end_s, np.inf) / total,
        n_steps=solved.n_steps,
        step_mean_s=solved.step_mean_s,
        step_min_s=solved.step_min_s,
        seconds=seconds,
        estimated_s=estimated_s,
        n_threads=solved.n_threads,
        attempts=solved.attempts,
    )


def gather(
    ground: MotionGround,
    solved: Solved,
    *,
    places: tuple[Place, ...],
    recorder: PlaceRecorder,
    record: RunRecord,
    limits: tuple[MotionLimit, ...],
    settings: MotionSettings,
) -> Simulation:
    """Make the value, the grids of the run finished in place: walls and gaps NaN, times in hours of the storm."""
    from screening.kernels.inertial import NEVER_S

    closed = ~ground.is_open
    solved.arrival_s[solved.arrival_s >= NEVER_S / 2.0] = np.nan
    for times in (solved.arrival_s, solved.wet_s):
        np.divide(times, np.float32(HOUR_S), out=times)
    found = {
        "depth_max_m": solved.depth_max_m,
        "speed_max_m_s": solved.speed_max_m_s,
        "unit_flow_max_m2_s": solved.unit_flow_max_m2_s,
        "arrival_h": solved.arrival_s,
        "wet_h": solved.wet_s,
    }
    for values in (*found.values(), solved.depth_m):
        values[closed] = np.nan
    worst = (solved.depth_max_m, solved.speed_max_m_s, solved.unit_flow_max_m2_s)
    return Simulation(
        grid=ground.grid,
        **found,
        depth_end_m=solved.depth_m,
        hazard=hazard_classes(*worst, wet_depth_m=settings.wet_depth_m),
        places=reach_places(places, **found, wet_depth_m=settings.wet_depth_m),
        series=recorder.series(),
        links=solved.links,
        balance=solved.balance,
        run=record,
        limits=limits,
        sources=MappingProxyType(sources()),
    )
