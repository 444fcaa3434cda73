"""What a run is given, and what it gives."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from screening.models import F32, F64
from screening.models.motion import Attempt, LinkUse, WaterBalance

if TYPE_CHECKING:
    pass


@dataclass(frozen=True, kw_only=True)
class Interval:
    """A stretch of time with an even supply: its end, whether maxima count, and which part of the supply falls."""

    end_s: float
    is_tracked: bool
    from_s: float
    to_s: float


class Supply(Protocol):
    """What gives the supply of an interval: `Forcing` is one."""

    def supply_m_s(self, start_s: float, end_s: float, *, over_s: float) -> F64:
        """Supply of the water between two moments, spread over some seconds, by cell [m/s]."""

    def inflow_m3(self, start_s: float, end_s: float) -> float:
        """Part of that water that is no runoff of rain [m3]."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Solved:
    """What a run left: grids of the window, float32, and its balance.

    The grids are looks at those of the run, left writable for `simulate` to finish them in place. `arrival_s` is
    `kernels.inertial.NEVER_S` where no water came.
    """

    depth_m: F32
    depth_max_m: F32
    unit_flow_max_m2_s: F32
    speed_max_m_s: F32
    arrival_s: F32
    wet_s: F32
    links: tuple[LinkUse, ...]
    balance: WaterBalance
    n_steps: int
    step_mean_s: float
    step_min_s: float
    seconds: float
    n_threads: int
    attempts: tuple[Attempt, ...]
