"""What a simulation of water in motion finds: maxima, places that water reaches, the balance, and how it was run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum, StrEnum
from types import MappingProxyType

from screening.grid import Grid
from screening.models.arrays import F32, F64, I64, U8, freeze


class PlaceKind(StrEnum):
    """What a place is that water may reach."""

    WALL_SIDE = "wall_side"
    DOOR = "door"
    DRIVEWAY_HOUSE_END = "driveway_house_end"
    DRIVEWAY_STREET_END = "driveway_street_end"


class HazardClass(IntEnum):
    """Flood hazard by depth, speed and their product: H1 to H6, 0 = dry."""

    DRY = 0
    H1 = 1
    H2 = 2
    H3 = 3
    H4 = 4
    H5 = 5
    H6 = 6


class MotionLimit(StrEnum):
    """What a simulation is not: a code each, for the report to say."""

    NO_BORES = "no_bores"
    """Momentum is not carried along: hydraulic jumps, bores and run-up at walls are not in it."""
    FROUDE_CAPPED = "froude_capped"
    """Flow faster than the largest Froude number is held to it."""
    NO_RUN_ON_LOSS = "no_run_on_loss"
    """What soaks in is taken off where rain falls: water that runs onto a lawn soaks in no more."""
    NO_ENTRY = "no_entry"
    """Structures are solid: no water goes in at doors, vents or windows."""
    NO_BACKWATER_FROM_BEYOND = "no_backwater_from_beyond"
    """Water leaves the window freely; levels beyond it hold nothing up."""
    NO_UNSEEN_INLETS = "no_unseen_inlets"
    """Storm inlets and pipes that no layer shows take nothing."""
    NO_ELEVATION_ERROR = "no_elevation_error"
    """The ground is taken as given: its error is not in the result."""
    ROUGHNESS_BY_COVER = "roughness_by_cover"
    """Manning's n of each cover from tables, not measured."""
    NO_OBJECTS_BELOW_A_CELL = "no_objects_below_a_cell"
    """Steps, edges and channels narrower than a cell are those of the layers alone."""
    ASSUMED_PIPE_CAPACITY = "assumed_pipe_capacity"
    """Some pipes or culverts have no capacity given: that of a usual one is taken."""
    UNLIMITED_DRAINS = "unlimited_drains"
    """Some drains have no capacity given, and take all that comes."""
    INFLOW_TIME_BY_AREA = "inflow_time_by_area"
    """Water from beyond arrives by a travel time that its area alone gives."""
    EARLY_RUNOFF_POURED = "early_runoff_poured"
    """Runoff before the hours simulated was poured onto the ground just before them."""
    LATER_RUNOFF_LEFT_OUT = "later_runoff_left_out"
    """Runoff after the hours simulated is left out: water that still gathers then is not in the depths."""
    NARROW_DRIVEWAYS = "narrow_driveways"
    """Some driveways are fewer than three cells wide."""


@dataclass(frozen=True, eq=False, kw_only=True)
class ReachedPlace:
    """What water does at one place.

    Parameters
    ----------
    kind
        Wall side, door or end of a driveway.
    owner_id
        `structure_id`, `door_id` or `driveway_id`.
    name
        The side's name; empty for others.
    cells
        Flat indices of its ground cells, int64.
    depth_max_m, speed_max_m_s
        Largest in any of them.
    unit_flow_max_m2_s
        Largest flow per metre of width, which is depth x speed [m2/s].
    arrival_h
        Hours of the storm until water first stands deeper than the depth that counts as wet; NaN = never.
    wet_h
        Longest that any of its cells was wet [h].
    hazard
        Class of the largest depth, speed and product.
    """

    kind: PlaceKind
    owner_id: str
    name: str
    cells: I64
    depth_max_m: float
    speed_max_m_s: float
    unit_flow_max_m2_s: float
    arrival_h: float
    wet_h: float
    hazard: HazardClass

    def __post_init__(self) -> None:
        freeze(self.cells)


@dataclass(frozen=True, eq=False)
class PlaceSeries:
    """Water at the places over time.

    Parameters
    ----------
    time_h
        Hours of the storm, float64 (n_times,).
    depth_m, unit_flow_m2_s
        Largest in the cells of each place, float32 (n_times, n_places).
    """

    time_h: F64
    depth_m: F32
    unit_flow_m2_s: F32

    def __post_init__(self) -> None:
        freeze(self.time_h, self.depth_m, self.unit_flow_m2_s)


@dataclass(frozen=True, kw_only=True)
class WaterBalance:
    """Where the water went [m3].

    Parameters
    ----------
    runoff_m3, inflow_m3
        Supplied by rain, and by hydrographs from beyond.
    start_m3
        Stood on the ground at the start.
    edge_m3, gap_m3, link_m3
        Left over the edges of the window, into gaps of the elevation, and through links without an outlet.
    standing_m3
        On the ground at the end.
    error_worst_frac
        Largest error of the balance at any output, as a share of all that was supplied or stood at the start.
    """

    runoff_m3: float
    inflow_m3: float
    start_m3: float
    edge_m3: float
    gap_m3: float
    link_m3: float
    standing_m3: float
    error_worst_frac: float

    @property
    def error_m3(self) -> float:
        """Water made (or lost, below 0) by rounding."""
        left = self.edge_m3 + self.gap_m3 + self.link_m3
        return self.standing_m3 + left - self.start_m3 - self.runoff_m3 - self.inflow_m3


@dataclass(frozen=True, kw_only=True)
class LinkUse:
    """What a pipe, culvert or drain took: its capacity (inf = no limit), its peak, and its water."""

    name: str
    capacity_m3_s: float
    peak_m3_s: float
    taken_m3: float


@dataclass(frozen=True)
class Attempt:
    """A run of the steps: its Courant number, the fastest water it met, and whether it ended as a failed run."""

    courant: float
    speed_max_m_s: float
    is_failed: bool


@dataclass(frozen=True, kw_only=True)
class RunRecord:
    """How a simulation was run.

    Parameters
    ----------
    start_h, end_h
        Hours of the storm that were simulated.
    early_runoff_frac, later_runoff_frac
        Share of all runoff that fell before them (poured just before), and after them (left out).
    n_steps, step_mean_s, step_min_s
        Of the run that counts.
    seconds, estimated_s
        Wall time, and what was estimated before.
    n_threads
        That most steps used.
    attempts
        Failed runs first; the last is the one that counts.
    """

    start_h: float
    end_h: float
    early_runoff_frac: float
    later_runoff_frac: float
    n_steps: int
    step_mean_s: float
    step_min_s: float
    seconds: float
    estimated_s: float
    n_threads: int
    attempts: tuple[Attempt, ...]


@dataclass(frozen=True, kw_only=True)
class Progress:
    """How far a simulation has come: share done, hour of the storm, seconds gone and seconds still to go."""

    done_frac: float
    storm_h: float
    elapsed_s: float
    left_s: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Simulation:
    """Water in motion over a window.

    Parameters
    ----------
    grid
        Of all arrays here; walls and ground without elevation are NaN in them.
    depth_max_m, speed_max_m_s, unit_flow_max_m2_s
        Largest of each cell, float32. Unit flow is depth x speed [m2/s]; cells that a link takes from have speed 0.
    arrival_h
        Hours of the storm until the cell was first wet, float32; NaN = never.
    wet_h
        How long it was wet, float32 [h].
    depth_end_m
        At the end, float32 [m].
    hazard
        `HazardClass` of each cell, uint8.
    places
        Wall sides, doors and driveway ends.
    series
        Water at them over time.
    links
        What pipes and drains took.
    balance, run
        Where the water went, and how it was run.
    limits
        What the simulation is not.
    sources
        Where the numbers of the method come from, by name.
    """

    grid: Grid
    depth_max_m: F32
    speed_max_m_s: F32
    unit_flow_max_m2_s: F32
    arrival_h: F32
    wet_h: F32
    depth_end_m: F32
    hazard: U8
    places: tuple[ReachedPlace, ...]
    series: PlaceSeries
    links: tuple[LinkUse, ...]
    balance: WaterBalance
    run: RunRecord
    limits: tuple[MotionLimit, ...]
    sources: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    def __post_init__(self) -> None:
        freeze(self.depth_max_m, self.speed_max_m_s, self.unit_flow_max_m2_s)
        freeze(self.arrival_h, self.wet_h, self.depth_end_m, self.hazard)
