"""The simulation of a window: from block, surface, walls and storm to what water does everywhere in it."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

import numpy as np

from screening.errors import InputError
from screening.models import Block, Inflow, Storm, Surface
from screening.models.motion import MotionLimit, Progress, RunRecord, Simulation
from screening.motion.forcing import Forcing, InflowHydrograph, forcing_of, hydrographs_of, hyetograph_of
from screening.motion.ground import MotionGround, ground_of
from screening.motion.hazard import hazard_classes
from screening.motion.hours import Hours, find_hours, intervals_of
from screening.motion.links import Link, links_of
from screening.motion.reached import Place, PlaceRecorder, check_driveways, find_places, reach_places
from screening.motion.settings import MotionSettings, sources
from screening.motion.solve import Solved, solve
from screening.schema.criteria import Criteria
from screening.storage.hyetographs import Hyetograph
from screening.structures.walls import Walls

_HOUR_S = 3600.0
_TWO_THREADS = 0.6
"""Share of the time of one thread that two take: measured."""
_ALWAYS = (
    MotionLimit.NO_BORES, MotionLimit.FROUDE_CAPPED, MotionLimit.NO_RUN_ON_LOSS, MotionLimit.NO_ENTRY,
    MotionLimit.NO_BACKWATER_FROM_BEYOND, MotionLimit.NO_UNSEEN_INLETS, MotionLimit.NO_ELEVATION_ERROR,
    MotionLimit.ROUGHNESS_BY_COVER, MotionLimit.NO_OBJECTS_BELOW_A_CELL,
)  # fmt: skip


def simulate_window(
    block: Block,
    surface: Surface,
    walls: Walls,
    storm: Storm,
    *,
    criteria: Criteria,
    settings: MotionSettings | None = None,
    hyetograph: Hyetograph | None = None,
    inflow: Inflow | None = None,
    hydrographs: Sequence[InflowHydrograph] = (),
    capacity_m3_s: Mapping[str, float] | None = None,
    spout_m3_s: float = float("inf"),
    estimate: Callable[[float], None] | None = None,
    progress: Callable[[Progress], None] | None = None,
    n_threads: int | None = None,
) -> Simulation:
    """Simulate how a storm's water moves over a window.

    Parameters
    ----------
    block, surface, walls, storm
        Of the same window.
    criteria
        `rainfall_distribution`, `initial_abstraction_ratio`, `nodata_drains`, `context_curve_number`, `door_reach_m`
        and the height of curbs.
    settings
        Numbers of the simulation.
    hyetograph
        The rain over time; else evenly over the storm's duration, or by the 24-hour distribution.
    inflow
        Water of ground beyond the window, which arrives by the travel time of its area.
    hydrographs
        More water from beyond, with its time.
    capacity_m3_s
        Of pipes and drains by kind and id. A pipe that is not named has the usual one, a drain takes all that comes.
    spout_m3_s
        Capacity of a downspout.
    estimate
        Told the seconds that the run will take, before it starts.
    progress
        Told at each output how far it has come.
    n_threads
        Most that may be used; None = as many as numba has.

    Returns
    -------
    Maxima, places, series, balance, and what the simulation is not.

    Raises
    ------
    InputError
        Cells too large for a driveway, no runoff, no open ground, inflow or a link in a wall.
    ScreeningError
        Water was too fast to be true, with smaller steps too.

    References
    ----------
    Bates, Horritt & Fewtrell 2010, doi 10.1016/j.jhydrol.2010.03.027; de Almeida et al. 2012,
    doi 10.1029/2011WR011570.
    """
    numbers, began = settings or MotionSettings(), time.perf_counter()
    is_narrow = check_driveways(block, numbers)
    threads = n_threads or default_threads()
    rain = hyetograph or hyetograph_of(storm.rain, distribution=criteria.rainfall_distribution, settings=numbers)
    ratio = criteria.initial_abstraction_ratio
    from_beyond = inflow or Inflow()
    coming = (
        *hydrographs,
        *hydrographs_of(from_beyond, rain, curve_number=criteria.context_curve_number, ratio=ratio),
    )
    forcing = forcing_of(surface, storm, rain, ratio=ratio, spout_m3_s=spout_m3_s, hydrographs=coming)
    closed = np.array([each.cell for each in coming], np.int64)
    ground = ground_of(block, surface, storm, criteria=criteria, settings=numbers, inflow_cells=closed)
    _check_inflow(coming, ground)
    links = links_of(block, surface, capacity_m3_s or {}, pipe_m3_s=numbers.pipe_m3_s)
    places = find_places(block, surface, walls, ground.is_open, door_reach_m=criteria.door_reach_m)
    hours = find_hours(ground, forcing, settings=numbers, n_threads=threads)
    estimated_s = estimate_seconds(ground, hours, settings=numbers, n_threads=threads)
    if estimate is not None:
        estimate(estimated_s)
    recorders: list[PlaceRecorder] = []
    solved = _run(
        ground, forcing, hours, links=links, places=places, recorders=recorders, settings=numbers,
        progress=progress, n_threads=threads,
    )  # fmt: skip
    drains = {intake.name for intake in block.intakes}
    limits = _limits(
        forcing, hours, links, is_narrow=is_narrow, has_inflow=bool(from_beyond.cell.size),
        has_assumed_pipe=any(link.name not in drains and link.name not in (capacity_m3_s or {}) for link in links),
    )  # fmt: skip
    record = _record(forcing, hours, solved, estimated_s, time.perf_counter() - began)
    return _gather(
        ground, solved, places=places, recorder=recorders[-1], record=record, limits=limits, settings=numbers
    )


def estimate_seconds(ground: MotionGround, hours: Hours, *, settings: MotionSettings, n_threads: int) -> float:
    """Estimate how long a run will take [s], by a factor of two or so.

    Parameters
    ----------
    ground
        Of the window.
    hours
        What is simulated; the fastest signal of a coarse run where there was one.
    settings
        `ns_cell_step`, `signal_m_s`, `courant`, `step_max_s_m`.
    n_threads
        That will be used.
    """
    cell_m, n_cells = ground.grid.cell_m, ground.grid.n_rows * ground.grid.n_cols
    signal = max(hours.signal_m_s, settings.signal_m_s)
    step_s = min(settings.courant * cell_m / signal, settings.step_max_s_m * cell_m)
    lead_s = settings.lead_s if hours.start_s > 0 else 0.0
    n_steps = (hours.end_s - hours.start_s + lead_s) / step_s
    share = 1.0 if n_threads == 1 else max(_TWO_THREADS, 1.0 / n_threads)
    return n_cells * n_steps * settings.ns_cell_step * share / 1e9


def _check_inflow(hydrographs: Sequence[InflowHydrograph], ground: MotionGround) -> None:
    """Refuse water that comes in at no open ground of the window.

    Raises
    ------
    InputError
        A cell lies in a wall or a gap.
    """
    is_open = ground.is_open.ravel()
    closed = [each.cell for each in hydrographs if not is_open[each.cell]]
    if closed:
        row, col = divmod(closed[0], ground.grid.n_cols)
        got = f"the cell in row {row}, column {col}, a wall or a gap"
        raise InputError("Water from beyond comes in where it cannot", got=got, expected="open ground")


def default_threads() -> int:
    """Threads that numba has."""
    from numba import get_num_threads

    return int(get_num_threads())


def _run(
    ground: MotionGround, forcing: Forcing, hours: Hours, *, links: Sequence[Link], places: tuple[Place, ...],
    recorders: list[PlaceRecorder], settings: MotionSettings, progress: Callable[[Progress], None] | None,
    n_threads: int,
) -> Solved:  # fmt: skip
    """Run the hours that matter; the last of the recorders is that of the run that counts."""

    def record() -> PlaceRecorder:
        recorders.append(PlaceRecorder(places))
        return recorders[-1]

    lead_s = settings.lead_s
    spans = intervals_of(forcing, hours.start_s, hours.end_s, lead_s=lead_s)
    start_s = hours.start_s if spans[0].is_tracked else hours.start_s - lead_s
    return solve(
        ground, forcing, spans, settings=settings, links=links, start_s=start_s, observer_of=record,
        progress=progress, n_threads=n_threads,
    )  # fmt: skip


def _limits(
    forcing: Forcing,
    hours: Hours,
    links: Sequence[Link],
    *,
    is_narrow: bool,
    has_inflow: bool,
    has_assumed_pipe: bool,
) -> tuple[MotionLimit, ...]:
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


def _record(forcing: Forcing, hours: Hours, solved: Solved, estimated_s: float, seconds: float) -> RunRecord:
    total = _supplied_m3(forcing, 0.0, np.inf)
    return RunRecord(
        start_h=hours.start_s / _HOUR_S,
        end_h=hours.end_s / _HOUR_S,
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


def _gather(
    ground: MotionGround, solved: Solved, *, places: tuple[Place, ...], recorder: PlaceRecorder, record: RunRecord,
    limits: tuple[MotionLimit, ...], settings: MotionSettings,
) -> Simulation:  # fmt: skip
    """Make the value, the grids of the run finished in place: walls and gaps NaN, times in hours of the storm."""
    from screening.kernels.inertial import NEVER_S

    closed = ~ground.is_open
    solved.arrival_s[solved.arrival_s >= NEVER_S / 2.0] = np.nan
    for times in (solved.arrival_s, solved.wet_s):
        np.divide(times, np.float32(_HOUR_S), out=times)
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
