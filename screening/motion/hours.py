"""Which hours of a storm matter: a coarse run finds them."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from screening.models import F32, F64, freeze
from screening.motion.forcing import Forcing
from screening.motion.ground import MotionGround, block_mean, coarsen
from screening.motion.settings import MotionSettings
from screening.motion.solve import Observer, solve
from screening.motion.supply import Interval

_HOUR_S = 3600.0
_FULL_FRAC = 0.98
"""Standing water counts as full from this share of its largest volume."""


@dataclass(frozen=True)
class Hours:
    """Stretch of a storm that is simulated [s], and the fastest signal that a coarse run met [m/s] (0 = none made)."""

    start_s: float
    end_s: float
    signal_m_s: float = 0.0


@dataclass(frozen=True, eq=False)
class _CoarseSupply:
    """The supply of a window on coarser cells."""

    forcing: Forcing
    factor: int

    def supply_m_s(self, start_s: float, end_s: float, *, over_s: float) -> F64:
        return block_mean(self.forcing.supply_m_s(start_s, end_s, over_s=over_s), self.factor)

    def inflow_m3(self, start_s: float, end_s: float) -> float:
        return self.forcing.inflow_m3(start_s, end_s)


@dataclass(frozen=True, eq=False)
class Activity:
    """How lively the water was at each output of a coarse run.

    Parameters
    ----------
    time_s
        float64 [s].
    flow_m2_s
        Root mean square of unit flow over the window, float64.
    standing_m
        Mean depth, float64.
    """

    time_s: F64
    flow_m2_s: F64
    standing_m: F64

    def __post_init__(self) -> None:
        freeze(self.time_s, self.flow_m2_s, self.standing_m)


def find_hours(ground: MotionGround, forcing: Forcing, *, settings: MotionSettings, n_threads: int = 1) -> Hours:
    """Find the hours of a storm that are worth simulating.

    A short storm is simulated whole, with the time after it; on a large window a run on coarse cells tells how fast
    its signals are, for the estimate. Of a longer storm that run tells when flow is above `active_frac` of its peak,
    and until when standing water still rises; hours beyond `hours_max` are left out, the latest first.

    Parameters
    ----------
    ground, forcing
        Of the same window.
    settings
        `whole_storm_h`, `hours_max`, `active_frac`, `after_rain_h`, `coarse_cells`.
    n_threads
        For the coarse run.
    """
    end_s = forcing.rain_s + settings.after_rain_h * _HOUR_S
    is_short = forcing.rain_s <= settings.whole_storm_h * _HOUR_S
    factor = max(round(min(ground.grid.shape) / settings.coarse_cells), 1)
    if is_short and factor == 1:
        return Hours(0.0, end_s)
    notes: list[tuple[float, float, float]] = []

    def note(time_s: float, depth: F32, flow_x: F32, flow_y: F32) -> None:
        along, across = flow_x[:, 1:] + flow_x[:, :-1], flow_y[1:] + flow_y[:-1]
        notes.append((time_s, float(np.sqrt((along**2 + across**2).mean() / 4.0)), float(depth.mean())))

    def noting() -> Observer:
        notes.clear()
        return note

    supply = _CoarseSupply(forcing, factor)
    spans = intervals_of(forcing, 0.0, end_s, lead_s=0.0)
    solved = solve(coarsen(ground, factor), supply, spans, settings=settings, observer_of=noting, n_threads=n_threads)
    activity = Activity(*(np.array(values) for values in zip(*notes, strict=True)))
    start_s, stop_s = lively_hours(activity, settings)
    # Its shortest step: in the hours that matter steps are short.
    signal = settings.courant * ground.grid.cell_m * factor / solved.step_min_s
    if is_short:
        return Hours(0.0, end_s, signal)
    return Hours(start_s, min(stop_s, end_s), signal)


def lively_hours(activity: Activity, settings: MotionSettings) -> tuple[float, float]:
    """Take the hours with flow above a share of its peak, or rising water after it [s]."""
    time, flow, standing = activity.time_s, activity.flow_m2_s, activity.standing_m
    lively = np.flatnonzero(flow >= settings.active_frac * flow.max())
    full = int(np.flatnonzero(standing >= _FULL_FRAC * standing.max())[0])
    start_s = float(time[max(lively[0] - 1, 0)])
    stop_s = float(time[max(lively[-1], full)])
    longest_s = settings.hours_max * _HOUR_S
    if stop_s - start_s > longest_s:
        # The peak is in, with most of the time after it.
        peak_s = float(time[int(flow.argmax())])
        start_s = max(start_s, peak_s - longest_s / 3.0)
        stop_s = min(stop_s, start_s + longest_s)
    return start_s, stop_s


def intervals_of(forcing: Forcing, start_s: float, end_s: float, *, lead_s: float) -> list[Interval]:
    """Cut hours of a storm into stretches of even supply, with a lead in which all earlier runoff is poured.

    Parameters
    ----------
    forcing
        The supply; its steps are cut where hydrographs have other steps.
    start_s, end_s
        What is simulated [s].
    lead_s
        Length of the lead before it, if there is any supply before `start_s`.
    """
    steps = [np.arange(0.0, forcing.rain_s + 0.5 * forcing.step_s, forcing.step_s)]
    steps += [np.arange(each.flow_m3_s.size + 1) * each.step_s for each in forcing.hydrographs]
    edges = np.unique(np.round(np.concatenate(steps), 6))
    edges = edges[(edges > start_s) & (edges < end_s)]
    edges = np.concatenate(([start_s], edges, [end_s]))
    spans = [
        Interval(end_s=float(b), is_tracked=True, from_s=float(a), to_s=float(b)) for a, b in itertools.pairwise(edges)
    ]
    if start_s > 0 and lead_s > 0:
        spans.insert(0, Interval(end_s=start_s, is_tracked=False, from_s=0.0, to_s=start_s))
    return spans
