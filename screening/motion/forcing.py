"""Rain to runoff, step by step: what falls on each cell, what roofs shed, what comes in from beyond."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from screening.errors import InputError
from screening.grid import Grid
from screening.models import F32, F64, I64, U8, Bool, Inflow, Rain, Storm, Surface, freeze
from screening.motion.settings import MotionSettings
from screening.storage.hyetographs import Hyetograph, nrcs_hyetograph, uniform_hyetograph
from screening.storage.inflow import DrainingArea, runoff_inflow
from screening.storage.unit_hydrograph import delay_inflow

_CLASSES_MAX = 255
_DAY_H = 24.0


def _no_cells() -> I64:
    return np.empty(0, np.int64)


@dataclass(frozen=True, eq=False)
class InflowHydrograph:
    """Water that comes in at one cell.

    Parameters
    ----------
    cell
        Flat index of the cell.
    step_s
        Length of a step [s].
    flow_m3_s
        Mean flow of each step, from the storm's begin, float64 [m3/s].
    """

    cell: int
    step_s: float
    flow_m3_s: F64

    def __post_init__(self) -> None:
        flow = self.flow_m3_s
        if not (self.step_s > 0 and np.isfinite(flow).all() and (flow >= 0).all()):
            raise InputError("A hydrograph cannot be used", expected="0 m3/s or more in steps of positive length")
        freeze(flow)

    def volume_m3(self, start_s: float, end_s: float) -> float:
        """Water between two times [m3]."""
        edges = np.arange(self.flow_m3_s.size + 1) * self.step_s
        mass = np.concatenate(([0.0], np.cumsum(self.flow_m3_s) * self.step_s))
        return float(np.diff(np.interp([start_s, end_s], edges, mass))[0])


@dataclass(frozen=True, eq=False, kw_only=True)
class Forcing:
    """Water that is supplied to a window.

    Parameters
    ----------
    grid
        The window.
    step_s
        Length of a step of the rain [s].
    runoff_m
        Runoff of each class of ground up to the end of each step, float64 (n_steps + 1, n_classes) [m].
    runoff_class
        Of each cell, uint8.
    is_fed
        Cells that rain makes runoff on; others, such as walls and gaps, give none.
    roof_cell, roof_target
        Roof cells, and the ground cells that take their water, int64.
    spout_target, spout_m3_s
        By roof cell: the cell below its downspout (-1 = none), int64, and the capacity of that downspout (inf = not
        given), float64. What is over it goes to `roof_target`.
    hydrographs
        Water from beyond.
    """

    grid: Grid
    step_s: float
    runoff_m: F64
    runoff_class: U8
    is_fed: Bool
    roof_cell: I64 = field(default_factory=_no_cells)
    roof_target: I64 = field(default_factory=_no_cells)
    spout_target: I64 = field(default_factory=_no_cells)
    spout_m3_s: F64 = field(default_factory=lambda: np.empty(0))
    hydrographs: tuple[InflowHydrograph, ...] = ()

    def __post_init__(self) -> None:
        freeze(self.runoff_m, self.runoff_class, self.is_fed, self.roof_cell, self.roof_target)
        freeze(self.spout_target, self.spout_m3_s)

    @property
    def rain_s(self) -> float:
        """How long the rain lasts [s]."""
        return float(self.step_s * (self.runoff_m.shape[0] - 1))

    def fallen_m(self, at_s: float) -> F64:
        """Runoff of each class up to a time, float64 (n_classes,) [m]."""
        place = min(max(at_s / self.step_s, 0.0), self.runoff_m.shape[0] - 1.0)
        first = min(int(place), self.runoff_m.shape[0] - 2)
        share = place - first
        return np.asarray(self.runoff_m[first] * (1.0 - share) + self.runoff_m[first + 1] * share, np.float64)

    def runoff_m3(self, start_s: float, end_s: float) -> float:
        """Runoff of rain between two times [m3]."""
        depth = self.fallen_m(end_s) - self.fallen_m(start_s)
        n_cells = np.bincount(self.runoff_class[self.is_fed], minlength=depth.size)
        return float((depth * n_cells).sum() * self.grid.cell_area_m2)

    def inflow_m3(self, start_s: float, end_s: float) -> float:
        """Water from beyond between two times [m3]."""
        return float(sum(each.volume_m3(start_s, end_s) for each in self.hydrographs))

    def supply_m_s(self, start_s: float, end_s: float, *, over_s: float) -> F64:
        """Supply of the time between two moments, spread over some seconds, by cell, float64 [m/s]."""
        supply = ((self.fallen_m(end_s) - self.fallen_m(start_s)) / over_s)[self.runoff_class]
        supply[~self.is_fed] = 0.0
        self._shed_roofs(supply.ravel())
        for each in self.hydrographs:
            supply.ravel()[each.cell] += each.volume_m3(start_s, end_s) / (over_s * self.grid.cell_area_m2)
        return supply

    def _shed_roofs(self, supply: F64) -> None:
        """Move the water of roofs to the ground, in place."""
        if not self.roof_cell.size:
            return
        roof = supply[self.roof_cell]
        supply[self.roof_cell] = 0.0
        has_spout = self.spout_target >= 0
        through = np.where(has_spout, roof, 0.0)
        if has_spout.any():
            cell, which = np.unique(self.spout_target[has_spout], return_inverse=True)
            reaching = np.bincount(which, weights=roof[has_spout]) * self.grid.cell_area_m2
            capacity = np.full(cell.size, np.inf)
            np.minimum.at(capacity, which, self.spout_m3_s[has_spout])
            share = np.divide(capacity, reaching, out=np.ones(cell.size), where=reaching > capacity)
            through[has_spout] *= share[which]
            np.add.at(supply, self.spout_target[has_spout], through[has_spout])
        has_ground = self.roof_target >= 0
        np.add.at(supply, self.roof_target[has_ground], (roof - through)[has_ground])


def hyetograph_of(rain: Rain, *, distribution: str, settings: MotionSettings) -> Hyetograph:
    """Spread a storm's rain over its hours: evenly over its duration, or by the 24-hour distribution.

    Parameters
    ----------
    rain
        A duration that is known, and not 24 h, makes a block.
    distribution
        NRCS I, IA, II or III.
    settings
        `rain_step_min`.
    """
    step_h = settings.rain_step_min / 60.0
    if rain.duration_h is None or rain.duration_h == _DAY_H:
        return nrcs_hyetograph(rain.depth_mm, distribution, step_h=step_h)
    return uniform_hyetograph(rain.depth_mm, duration_h=rain.duration_h, step_h=step_h)


def forcing_of(
    surface: Surface,
    storm: Storm,
    hyetograph: Hyetograph,
    *,
    ratio: float,
    spout_m3_s: float = float("inf"),
    hydrographs: Sequence[InflowHydrograph] = (),
) -> Forcing:
    """Make the supply of a storm: runoff by curve number on each cell, roofs led to downspouts or to the ground.

    Parameters
    ----------
    surface, storm
        Of the same window.
    hyetograph
        The storm's rain over time.
    ratio
        Initial abstraction as a share of the potential retention.
    spout_m3_s
        Capacity of a downspout [m3/s]; what is over it runs off the eaves onto the nearest ground.
    hydrographs
        Water from beyond.

    Raises
    ------
    InputError
        The rain makes no runoff and nothing comes from beyond, or comes in outside the window.
    """
    from screening.kernels.runoff import curve_number_runoff

    known = ~np.isnan(storm.curve_number)
    numbers, label = np.unique(np.where(known, storm.curve_number, np.float32(100.0)), return_inverse=True)
    if numbers.size > _CLASSES_MAX:
        rounded = np.where(known, np.round(storm.curve_number), np.float32(100.0))
        numbers, label = np.unique(rounded, return_inverse=True)
    fallen = np.concatenate(([0.0], np.cumsum(hyetograph.rain_mm)))[:, np.newaxis]
    runoff = curve_number_runoff(fallen, numbers.astype(np.float64)[np.newaxis], ratio) / 1000.0
    roof_cell, roof_target, spout_target = _lead_roofs(surface)
    for each in hydrographs:
        if not 0 <= each.cell < known.size:
            raise InputError(
                "Water from beyond comes in outside the window", got=f"cell {each.cell}", expected="a cell of it"
            )
    is_fed = known & (~np.isnan(surface.elev_m) | (surface.structure_index > 0))
    # An intake without an outlet takes the water of its roof off the ground.
    is_fed.ravel()[np.intersect1d(surface.conduits.sink_cell, roof_cell)] = False
    forcing = Forcing(
        grid=storm.grid,
        step_s=hyetograph.step_h * 3600.0,
        runoff_m=runoff,
        runoff_class=label.reshape(storm.grid.shape).astype(np.uint8),
        is_fed=is_fed,
        roof_cell=roof_cell,
        roof_target=roof_target,
        spout_target=spout_target,
        spout_m3_s=np.full(roof_cell.size, spout_m3_s),
        hydrographs=tuple(hydrographs),
    )
    if not forcing.runoff_m3(0.0, forcing.rain_s) > 0 and not forcing.inflow_m3(0.0, np.inf) > 0:
        raise InputError(
            "The window has no water to move",
            got=f"{hyetograph.depth_mm:g} mm of rain, none of which runs off",
            expected="rain above the initial abstraction, or inflow from beyond",
        )
    return forcing


def _lead_roofs(surface: Surface) -> tuple[I64, I64, I64]:
    """Roof cells, the nearest open ground cell of each (-1 = there is none), and the cell of its downspout or -1."""
    from scipy.spatial import cKDTree

    roof = np.flatnonzero(surface.structure_index.ravel() > 0).astype(np.int64)
    spout = np.full(roof.size, -1, np.int64)
    ground = np.flatnonzero((surface.structure_index.ravel() == 0) & ~np.isnan(surface.elev_m.ravel()))
    if not roof.size or not ground.size:
        return roof, np.full(roof.size, -1, np.int64), spout
    n_cols = surface.grid.n_cols
    _, nearest = cKDTree(np.column_stack(np.divmod(ground, n_cols))).query(np.column_stack(np.divmod(roof, n_cols)))
    pipes = surface.conduits
    spout[np.searchsorted(roof, pipes.roof_cell)] = pipes.roof_target
    # An intake on a roof is a downspout: its cells are inlets of pipes.
    is_roof = surface.structure_index.ravel()[pipes.inlet] > 0
    spout[np.searchsorted(roof, pipes.inlet[is_roof])] = pipes.outlet[is_roof]
    return roof, ground[nearest].astype(np.int64), spout


def hydrographs_of(
    inflow: Inflow, hyetograph: Hyetograph, *, curve_number: float, ratio: float
) -> tuple[InflowHydrograph, ...]:
    """Give the water from beyond its time: the runoff of its ground, delayed by the travel time of its area.

    Parameters
    ----------
    inflow
        Cells and areas; volumes where they are known.
    hyetograph
        The storm's rain over time.
    curve_number
        Of the ground beyond.
    ratio
        Initial abstraction as a share of the potential retention.

    References
    ----------
    Time of concentration 0.76 A^0.38 h, A in km2: Pilgrim & McDermott 1981 (from memory). Unit hydrograph: NEH 630
    chapter 16.
    """
    found = []
    for cell, area_m2, volume_m3 in zip(inflow.cell.tolist(), inflow.area_m2, inflow.runoff_m3, strict=True):
        if not area_m2 > 0:
            continue
        shed = runoff_inflow(hyetograph, [DrainingArea(float(area_m2), curve_number)], ratio=ratio)
        delayed = delay_inflow(shed, time_of_concentration_h=0.76 * (float(area_m2) / 1e6) ** 0.38)
        scale = float(volume_m3) / shed.total_m3 if np.isfinite(volume_m3) and shed.total_m3 > 0 else 1.0
        step_s = delayed.step_h * 3600.0
        found.append(InflowHydrograph(cell, step_s, np.asarray(delayed.volume_m3 * scale / step_s, np.float64)))
    return tuple(found)


def coarse_supply(supply: F64, factor: int) -> F32:
    """Mean supply of squares of `factor` cells, float32 [m/s]."""
    from screening.motion.ground import block_mean

    return block_mean(supply, factor).astype(np.float32)
