"""The run itself: steps as long as the fastest signal lets them be, a failed run tried again, balance, progress."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from screening.errors import ScreeningError
from screening.models import F32, F64
from screening.models.motion import Attempt, Progress, WaterBalance
from screening.motion.ground import MotionGround
from screening.motion.links import Link, kernel_links, link_uses
from screening.motion.pace import Pace
from screening.motion.settings import MotionSettings
from screening.motion.supply import Interval, Solved, Supply

if TYPE_CHECKING:
    from screening.kernels.inertial import Scheme, Water

_HAIR_S = 1e-6
_SIGNAL_LEAST_M_S = 1e-3


Observer = Callable[[float, F32, F32, F32], None]
"""Called at each output with the time [s], the depth [m] and the flows over x and y faces [m2/s], without the ring."""


class _TooFastError(Exception):
    """Water met a speed that it does not have."""

    def __init__(self, speed_m_s: float) -> None:
        super().__init__(speed_m_s)
        self.speed_m_s = speed_m_s


def solve(
    ground: MotionGround,
    supply: Supply,
    intervals: Sequence[Interval],
    *,
    settings: MotionSettings,
    links: Sequence[Link] = (),
    start_s: float = 0.0,
    depth_m: F32 | F64 | None = None,
    observer_of: Callable[[], Observer] | None = None,
    progress: Callable[[Progress], None] | None = None,
    n_threads: int = 1,
) -> Solved:
    """Run water over a ground.

    Parameters
    ----------
    ground
        Levels, walls, roughness.
    supply
        What falls and comes in.
    intervals
        Stretches of even supply, in order.
    settings
        Numbers of the scheme.
    links
        Culverts, pipes, drains.
    start_s
        When the first interval begins [s].
    depth_m
        Water at the start; None = dry.
    observer_of
        Makes what is told of the water at each output, again for each attempt.
    progress
        Told how far the run has come.
    n_threads
        Most that may be used; fewer are where that is faster, and what is found does not depend on it.

    Returns
    -------
    Maxima, balance, and how it was run.

    Raises
    ------
    ScreeningError
        Water was faster than `speed_limit_m_s` in every attempt: no picture is better than a wrong one.
    """
    attempts: list[Attempt] = []
    for number in range(int(settings.n_attempts)):
        courant = settings.courant * 0.5**number
        run = _Run(
            ground, links, settings=settings, courant=courant, depth_m=depth_m, start_s=start_s, n_threads=n_threads
        )
        try:
            run.through(supply, intervals, observer_of() if observer_of else None, progress)
        except _TooFastError as met:
            attempts.append(Attempt(courant, met.speed_m_s, True))
            continue
        attempts.append(Attempt(courant, run.fastest_m_s(), False))
        return run.result(tuple(attempts))
    speeds = ", ".join(f"{each.speed_max_m_s:.1f}" for each in attempts)
    raise ScreeningError(
        "The simulation is unstable here",
        got=f"water of {speeds} m/s in {len(attempts)} runs, each with half the step",
        expected=f"at most {settings.speed_limit_m_s:g} m/s",
        mend="look for pits, cliffs or spikes in the elevation, or use larger cells",
    )


class _Run:
    """One attempt: the water, its balance so far, and the steps that were made."""

    def __init__(
        self,
        ground: MotionGround,
        links: Sequence[Link],
        *,
        settings: MotionSettings,
        courant: float,
        depth_m: F32 | F64 | None,
        start_s: float,
        n_threads: int,
    ) -> None:
        from screening.kernels import inertial

        self.ground, self.shape, self.settings, self.courant = ground, ground.grid.shape, settings, courant
        self.given_links, self.links = links, kernel_links(links, ground)
        self.water: Water = inertial.still_water(self.shape)
        self.maxima, self.left = inertial.no_maxima(self.shape), inertial.nothing_left()
        self.source = inertial.padded(self.shape)
        numbers = (
            ground.grid.cell_m,
            settings.own_weight,
            settings.least_depth_m,
            settings.froude_max,
            settings.wet_depth_m,
            settings.speed_depth_m,
            settings.track_s,
        )
        # All float: a whole number in the settings would have the kernel compiled again.
        self.scheme: Scheme = inertial.Scheme(*(float(number) for number in numbers))
        self.pace, self.time_s, self.start_s = Pace(n_threads=n_threads), float(start_s), float(start_s)
        self.depth = inertial.inside(self.water.depth, self.shape)
        if depth_m is not None:
            self.depth[:] = np.where(ground.is_open, depth_m, 0.0)
        self.begun_m3 = self.standing_m3()
        self.signal_m_s = math.sqrt(inertial.GRAVITY_M_S2 * float(self.depth.max()))
        self.n_steps, self.step_min_s, self.began = 0, math.inf, time.perf_counter()
        self.supplied_m3 = self.inflow_m3 = self.worst_m3 = 0.0

    def through(
        self,
        supply: Supply,
        intervals: Sequence[Interval],
        observer: Observer | None,
        progress: Callable[[Progress], None] | None,
    ) -> None:
        """Run through all intervals."""
        from screening.kernels import inertial

        end_s, output_s = intervals[-1].end_s, self.time_s
        for interval in intervals:
            over_s = interval.end_s - self.time_s
            if over_s <= _HAIR_S:
                continue
            inside = inertial.inside(self.source, self.shape)
            inside[:] = supply.supply_m_s(interval.from_s, interval.to_s, over_s=over_s)
            inside[~self.ground.is_open] = 0.0
            supplied_m3_s = float(inside.sum(dtype=np.float64)) * self.ground.grid.cell_area_m2
            self.inflow_m3 += supply.inflow_m3(interval.from_s, interval.to_s)
            while self.time_s < interval.end_s - _HAIR_S:
                until_s = min(self.time_s + self.settings.span_s, interval.end_s, output_s + self.settings.output_s)
                span_s = until_s - self.time_s
                self._advance(until_s, interval.is_tracked)
                self.supplied_m3 += supplied_m3_s * span_s
                if until_s >= min(output_s + self.settings.output_s, end_s) - _HAIR_S:
                    output_s = until_s
                    self._tell(observer if interval.is_tracked else None, progress, end_s)

    def _advance(self, until_s: float, is_tracked: bool) -> None:
        """Make the steps up to a moment, all of one length."""
        from screening.kernels import inertial

        cell_m, span_s = self.ground.grid.cell_m, until_s - self.time_s
        longest_s = min(
            self.settings.step_max_s_m * cell_m * self.courant / self.settings.courant,
            self.courant * cell_m / max(self.signal_m_s, _SIGNAL_LEAST_M_S),
        )
        n_steps = max(math.ceil(span_s / longest_s - 1e-9), 1)
        span = inertial.Span(self.time_s, n_steps, span_s / n_steps, is_tracked)
        n_threads, began = self.pace.choose(), time.perf_counter()
        self.signal_m_s = inertial.advance(
            self.water,
            self.ground.faces,
            self.source,
            shape=self.shape,
            scheme=self.scheme,
            span=span,
            links=self.links,
            gaps=self.ground.gap_cells,
            maxima=self.maxima,
            left=self.left,
            n_threads=n_threads,
        )
        self.pace.tell(n_threads, (time.perf_counter() - began) / n_steps)
        self.time_s, self.n_steps = until_s, self.n_steps + n_steps
        self.step_min_s = min(self.step_min_s, span.step_s)
        speed = self.fastest_m_s()
        # Not above the limit and not NaN.
        if not (speed <= self.settings.speed_limit_m_s and math.isfinite(self.signal_m_s)):
            raise _TooFastError(speed)

    def _tell(self, observer: Observer | None, progress: Callable[[Progress], None] | None, end_s: float) -> None:
        self.worst_m3 = max(self.worst_m3, abs(self.error_m3()))
        n_rows, n_cols = self.shape
        if observer is not None:
            x = self.water.flow_x[1 : n_rows + 1, 1 : n_cols + 2]
            observer(self.time_s, self.depth, x, self.water.flow_y[1 : n_rows + 2, 1 : n_cols + 1])
        if progress is not None:
            done = (self.time_s - self.start_s) / (end_s - self.start_s)
            gone = time.perf_counter() - self.began
            progress(
                Progress(
                    done_frac=done, storm_h=self.time_s / 3600.0, elapsed_s=gone, left_s=gone * (1.0 - done) / done
                )
            )

    def fastest_m_s(self) -> float:
        """Fastest water up to now."""
        return float(self.maxima.speed.max())

    def standing_m3(self) -> float:
        """Water on the ground."""
        return float(self.depth.sum(dtype=np.float64)) * self.ground.grid.cell_area_m2

    def error_m3(self) -> float:
        """Water that rounding made."""
        left = sum(float(each[0]) for each in self.left)
        return self.standing_m3() + left - self.begun_m3 - self.supplied_m3

    def result(self, attempts: tuple[Attempt, ...]) -> Solved:
        """Gather what was found."""
        from screening.kernels import inertial

        def grid(values: F32) -> F32:
            # A look at the padded grid: a copy of each would be a third more memory at the end than in the run.
            return inertial.inside(values, self.shape)

        moved = self.supplied_m3 + self.begun_m3
        balance = WaterBalance(
            runoff_m3=self.supplied_m3 - self.inflow_m3,
            inflow_m3=self.inflow_m3,
            start_m3=self.begun_m3,
            edge_m3=float(self.left.by_edges[0]),
            gap_m3=float(self.left.by_gaps[0]),
            link_m3=float(self.left.by_links[0]),
            standing_m3=self.standing_m3(),
            error_worst_frac=self.worst_m3 / moved if moved > 0 else 0.0,
        )
        return Solved(
            depth_m=grid(self.water.depth),
            depth_max_m=grid(self.maxima.depth),
            unit_flow_max_m2_s=grid(self.maxima.unit_flow),
            speed_max_m_s=grid(self.maxima.speed),
            arrival_s=grid(self.maxima.arrival_s),
            wet_s=grid(self.maxima.wet_s),
            links=link_uses(self.given_links, self.links),
            balance=balance,
            n_steps=self.n_steps,
            step_mean_s=(self.time_s - self.start_s) / max(self.n_steps, 1),
            step_min_s=self.step_min_s,
            seconds=time.perf_counter() - self.began,
            n_threads=self.pace.most_used,
            attempts=attempts,
        )
