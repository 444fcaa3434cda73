"""A trench drain put together, and what each of its parts takes."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from screening.hydraulics.channel import Channel
from screening.hydraulics.channel_capacity import largest_inflow_m3_s
from screening.hydraulics.drain_site import DrainSite
from screening.hydraulics.grates import Grate, grate_capacity_m3_s
from screening.hydraulics.outlet import OutletPipe, headwater_m, pipe_capacity_m3_s
from screening.hydraulics.ranges import check_range
from screening.schema.codes.hydraulics import Part
from screening.schema.criteria import Criteria


@dataclass(frozen=True, kw_only=True)
class TrenchDrain:
    """A trench drain by its own measures.

    Parameters
    ----------
    channel
        The channel.
    grate
        The grate over it, no longer than the channel.
    pipe
        The pipe that drains it; None where none is given, and the outlet is taken as a free fall.
    site
        What is known of its place.

    Raises
    ------
    InputError
        The grate is longer than the channel.
    """

    channel: Channel
    grate: Grate
    pipe: OutletPipe | None = None
    site: DrainSite = field(default_factory=DrainSite)

    def __post_init__(self) -> None:
        # A hundredth over: lengths that were measured twice.
        check_range("length_m of the grate", self.grate.length_m, high=1.01 * self.channel.length_m)

    def outlet_depth_m(self, flow_m3_s: float) -> float | None:
        """Find the depth in the channel at which the pipe takes a flow [m]; None where it cannot."""
        if self.pipe is None:
            return 0.0
        head = headwater_m(self.pipe, flow_m3_s)
        return None if head is None else max(head - self.pipe.invert_drop_m, 0.0)


@dataclass(frozen=True, kw_only=True)
class Capacities:
    """What a trench drain takes, part by part [m3/s].

    Parameters
    ----------
    grate_m3_s
        The grate under the deepest water allowed above it.
    channel_m3_s
        The channel with a free fall at its outlet.
    pipe_m3_s
        The pipe with the channel brimful before it, at most its flow when full; None without a pipe.
    joint_m3_s
        Channel and pipe together: water that the pipe holds up fills the channel.
    """

    grate_m3_s: float
    channel_m3_s: float
    pipe_m3_s: float | None
    joint_m3_s: float

    @property
    def drain_m3_s(self) -> float:
        """What the whole drain takes [m3/s]."""
        return min(self.grate_m3_s, self.joint_m3_s)

    @property
    def limited_by(self) -> Part:
        """The part that takes least; where channel and pipe limit each other, the lesser of them alone."""
        if self.grate_m3_s <= self.joint_m3_s:
            return Part.GRATE
        return Part.CHANNEL if self.pipe_m3_s is None or self.channel_m3_s <= self.pipe_m3_s else Part.PIPE

    def with_clogging(self, drain: TrenchDrain, clogged_frac: float, *, criteria: Criteria) -> Capacities:
        """Give the same capacities with the drain's grate clogged otherwise: channel and pipe do not change."""
        depth = criteria.hydraulics.trench_drain_ponding_max_m
        return replace(self, grate_m3_s=grate_capacity_m3_s(drain.grate, depth_m=depth, clogged_frac=clogged_frac))


def find_capacities(drain: TrenchDrain, *, criteria: Criteria) -> Capacities:
    """Find what grate, channel and pipe take, each alone, and channel and pipe together.

    Parameters
    ----------
    drain
        The drain.
    criteria
        `trench_drain_clogged_frac`, `trench_drain_ponding_max_m` and `trench_drain_freeboard_min_m`.

    Returns
    -------
    The capacities.
    """
    room = criteria.hydraulics.trench_drain_freeboard_min_m
    grate = grate_capacity_m3_s(
        drain.grate,
        depth_m=criteria.hydraulics.trench_drain_ponding_max_m,
        clogged_frac=criteria.hydraulics.trench_drain_clogged_frac,
    )
    alone = largest_inflow_m3_s(drain.channel, freeboard_min_m=room)
    if drain.pipe is None:
        return Capacities(grate_m3_s=grate, channel_m3_s=alone, pipe_m3_s=None, joint_m3_s=alone)
    brimful = max(drain.channel.section.depth_m - room, 0.0) + drain.pipe.invert_drop_m
    pipe = pipe_capacity_m3_s(drain.pipe, depth_m=brimful)
    joint = largest_inflow_m3_s(
        drain.channel,
        freeboard_min_m=room,
        outlet_depth_m=drain.outlet_depth_m,
        at_most_m3_s=drain.pipe.full_flow_m3_s,
    )
    return Capacities(grate_m3_s=grate, channel_m3_s=alone, pipe_m3_s=pipe, joint_m3_s=joint)
