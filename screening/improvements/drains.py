"""Trench drains by the dimensions that an improvement gives: channel, grate, outlet pipe and place."""

from __future__ import annotations

import numpy as np

from screening.grid import cells_along
from screening.hydraulics.channel import Channel
from screening.hydraulics.drain_site import DrainSite
from screening.hydraulics.grates import Grate
from screening.hydraulics.outlet import OutletPipe
from screening.hydraulics.sections import TrenchSection
from screening.hydraulics.trench_drain import TrenchDrain
from screening.improvements.apply import outlet_of
from screening.models import BlockResult, Improvement, Improvements
from screening.schema.codes.hydraulics import Use

NOT_KNOWN = float("nan")


def trench_drain_of(improvement: Improvement, after: BlockResult, improvements: Improvements) -> TrenchDrain | None:
    """A trench drain by its own dimensions; None where width, depth or grate are not given."""
    width, depth, open_frac = (improvement.number(key) for key in ("width_m", "depth_m", "grate_open_frac"))
    if not (width > 0 and depth > 0 and open_frac > 0):
        return None
    length = improvement.geometry.length
    slope = np.nan_to_num(improvement.number("channel_slope_pct")) / 100.0
    return TrenchDrain(
        channel=Channel(
            section=TrenchSection(width, width, depth),
            length_m=length,
            invert_slope=float(slope),
            grate_slope=float(slope),
        ),
        grate=Grate(width_m=width, length_m=length, open_frac=open_frac),
        pipe=_outlet_pipe(improvement, after, improvements),
        site=site_of(improvement),
    )


def _outlet_pipe(improvement: Improvement, after: BlockResult, improvements: Improvements) -> OutletPipe | None:
    """The straight pipe from the nearer end of a drain to its outlet on the ground; None where either is unknown."""
    outlet, diameter = outlet_of(improvement, improvements), improvement.number("pipe_diameter_m")
    if outlet is None or not diameter > 0:
        return None
    length, fall = pipe_room(improvement, after, improvements)
    return OutletPipe(diameter_m=diameter, length_m=max(length, 0.1), fall_m=fall) if fall == fall else None


def pipe_room(improvement: Improvement, after: BlockResult, improvements: Improvements) -> tuple[float, float]:
    """Length of a drain's outlet pipe, and its fall from the drain's lowest invert to the ground at the outlet [m]."""
    outlet, grid = outlet_of(improvement, improvements), after.flow.grid
    if outlet is None:
        return NOT_KNOWN, NOT_KNOWN
    row, col = cells_along(grid, improvement.geometry, closed=True).T
    ground_m = after.surface.elev_m
    lowest = float(np.nanmin(ground_m[row, col], initial=np.inf))
    at = int((grid.north_m - outlet.y) // grid.cell_m), int((outlet.x - grid.west_m) // grid.cell_m)
    return float(improvement.geometry.distance(outlet)), lowest - improvement.number("depth_m") - float(ground_m[at])


def site_of(improvement: Improvement) -> DrainSite:
    """Take what an improvement says of the place of a drain."""
    cut, use = improvement.number("cut_depth_m"), improvement.word("use")
    return DrainSite(
        cut_depth_m=cut if cut == cut else None,
        use=Use(use) if use else None,
        load_class=improvement.word("load_class") or None,
        has_overflow_path=improvement.is_said("has_overflow_path"),
        has_discharge_permission=improvement.is_said("has_discharge_permission"),
    )
