"""The simulation of a window: from block, surface, walls and storm to what water does everywhere in it."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence

import numpy as np

from screening.errors import InputError
from screening.models import Block, Inflow, Storm, Surface
from screening.models.motion import Progress, Simulation
from screening.motion.forcing import Forcing, InflowHydrograph, forcing_of, hydrographs_of, hyetograph_of
from screening.motion.ground import MotionGround, ground_of
from screening.motion.hours import Hours, find_hours, intervals_of
from screening.motion.links import Link, links_of
from screening.motion.reached import Place, PlaceRecorder, check_driveways, find_places
from screening.motion.records import gather, limits_of, record_of
from screening.motion.settings import MotionSettings
from screening.motion.solve import solve
from screening.motion.supply import Solved
from screening.schema.criteria import Criteria
from screening.storage.hyetographs import Hyetograph
from screening.structures.walls import Walls

_TWO_THREADS = 0.6
"""Share of the time of one thread that two take: measured."""


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
    rain = hyetograph or hyetograph_of(storm.rain, distribution=criteria.storm.rainfall_distribution, settings=numbers)
    ratio = criteria.storm.initial_abstraction_ratio
    from_beyond = inflow or Inflow()
    coming = (
        *hydrographs,
        *hydrographs_of(from_beyond, rain, curve_number=criteria.flow.context_curve_number, ratio=ratio),
    )
    forcing = forcing_of(surface, storm, rain, ratio=ratio, spout_m3_s=spout_m3_s, hydrographs=coming)
    closed = np.array([each.cell for each in coming], np.int64)
    ground = ground_of(block, surface, storm, criteria=criteria, settings=numbers, inflow_cells=closed)
    _check_inflow(coming, ground)
    links = links_of(block, surface, capacity_m3_s or {}, pipe_m3_s=numbers.pipe_m3_s)
    places = find_places(block, surface, walls, ground.is_open, door_reach_m=criteria.structures.door_reach_m)
    hours = find_hours(ground, forcing, settings=numbers, n_threads=threads)
    estimated_s = estimate_seconds(ground, hours, settings=numbers, n_threads=threads)
    if estimate is not None:
        estimate(estimated_s)
    recorders: list[PlaceRecorder] = []
    solved = _run(
        ground,
        forcing,
        hours,
        links=links,
        places=places,
        recorders=recorders,
        settings=numbers,
        progress=progress,
        n_threads=threads,
    )
    drains = {intake.name for intake in block.intakes}
    limits = limits_of(
        forcing,
        hours,
        links,
        is_narrow=is_narrow,
        has_inflow=bool(from_beyond.cell.size),
        has_assumed_pipe=any(link.name not in drains and link.name not in (capacity_m3_s or {}) for link in links),
    )
    record = record_of(forcing, hours, solved, estimated_s, time.perf_counter() - began)
    return gather(ground, solved, places=places, recorder=recorders[-1], record=record, limits=limits, settings=numbers)


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
    ground: MotionGround,
    forcing: Forcing,
    hours: Hours,
    *,
    links: Sequence[Link],
    places: tuple[Place, ...],
    recorders: list[PlaceRecorder],
    settings: MotionSettings,
    progress: Callable[[Progress], None] | None,
    n_threads: int,
) -> Solved:
    """Run the hours that matter; the last of the recorders is that of the run that counts."""

    def observe() -> PlaceRecorder:
        recorders.append(PlaceRecorder(places=places))
        return recorders[-1]

    lead_s = settings.lead_s
    spans = intervals_of(forcing, hours.start_s, hours.end_s, lead_s=lead_s)
    start_s = hours.start_s if spans[0].is_tracked else hours.start_s - lead_s
    return solve(
        ground,
        forcing,
        spans,
        settings=settings,
        links=links,
        start_s=start_s,
        observer_of=observe,
        progress=progress,
        n_threads=n_threads,
    )
