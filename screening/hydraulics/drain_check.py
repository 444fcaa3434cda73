"""A trench drain under an inflow: what it takes, which part limits it, and what bypasses it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from screening.hydraulics.channel import ChannelProfile, find_profile
from screening.hydraulics.channel_capacity import storage_m3
from screening.hydraulics.drain_site import check_site
from screening.hydraulics.grates import crossover_depth_m, ponding_depth_m
from screening.hydraulics.manning import slope_for_flow
from screening.hydraulics.outlet import OutletPipe
from screening.hydraulics.ranges import check_range
from screening.hydraulics.rows import CheckRow, Facts
from screening.hydraulics.trench_drain import Capacities, TrenchDrain, find_capacities
from screening.schema.codes.hydraulics import CheckReason, DrainCaution, InflowLaw, Part
from screening.schema.codes.verdicts import Operator
from screening.schema.criteria import Criteria, sources

_GRATE_SOURCE = "HEC-22 (2009) eq. 4-26 and 4-27, p. 4-57"
_CHANNEL_SOURCE = "spatially varied flow, Chow 1959 chapter 12, from memory"
_PIPE_SOURCE = "Manning's equation, HEC-22 (2009) eq. 7-1"


@dataclass(frozen=True, kw_only=True)
class ClogCase:
    """How a trench drain does at one share of clogging."""

    clogged_frac: float
    capacity_m3_s: float
    bypass_m3_s: float
    ponding_depth_m: float
    limited_by: Part


@dataclass(frozen=True, kw_only=True, eq=False)
class TrenchDrainAssessment:
    """How a trench drain does under an inflow.

    Parameters
    ----------
    inflow_m3_s
        Water that reaches it [m3/s].
    captured_m3_s, bypass_m3_s
        What it takes and what bypasses it; they add up to the inflow [m3/s].
    capacities
        What each part takes.
    headroom_m3_s
        Capacity less inflow; negative where it is too small [m3/s].
    ponding_depth_m
        Depth above the grate that would take the whole inflow, if channel and pipe could [m].
    profile
        Water along the channel under what is captured.
    storage_m3
        What the channel holds with its outlet blocked [m3].
    rows
        Checks.
    clogging
        The same drain at other shares of clogging.
    cautions
        What it says of its own limits: see `drain_site.DRAIN_CAUTIONS`.
    """

    inflow_m3_s: float
    captured_m3_s: float
    bypass_m3_s: float
    capacities: Capacities
    headroom_m3_s: float
    ponding_depth_m: float
    profile: ChannelProfile
    storage_m3: float
    rows: tuple[CheckRow, ...]
    clogging: tuple[ClogCase, ...]
    cautions: tuple[DrainCaution, ...]


def assess_trench_drain(
    drain: TrenchDrain,
    *,
    inflow_m3_s: float,
    criteria: Criteria,
    clogged_fracs: Iterable[float] = (0.0, 0.25, 0.5, 0.75),
) -> TrenchDrainAssessment:
    """Find what a trench drain takes of an inflow, what limits it and what bypasses it.

    Parameters
    ----------
    drain
        The drain; what is not known of its pipe or its site is not assessed.
    inflow_m3_s
        Water that reaches it, even along its length [m3/s]; an inflow per metre times its length.
    criteria
        Thresholds of trench drains, outlet pipes and excavations.
    clogged_fracs
        Shares of clogging of the sensitivity; the assessment itself takes `trench_drain_clogged_frac`.

    Returns
    -------
    The assessment. What is captured is the inflow, or the capacity where that is less: a drain that overflows goes
    on taking what it can.
    """
    check_range("inflow_m3_s", inflow_m3_s)
    capacities = find_capacities(drain, criteria=criteria)
    captured = min(inflow_m3_s, capacities.drain_m3_s)
    outlet_depth = drain.outlet_depth_m(captured) or 0.0
    return TrenchDrainAssessment(
        inflow_m3_s=inflow_m3_s,
        captured_m3_s=captured,
        bypass_m3_s=inflow_m3_s - captured,
        capacities=capacities,
        headroom_m3_s=capacities.drain_m3_s - inflow_m3_s,
        ponding_depth_m=_ponding(drain, inflow_m3_s, criteria.hydraulics.trench_drain_clogged_frac),
        profile=find_profile(drain.channel, inflow_m3_s=captured, outlet_depth_m=outlet_depth),
        storage_m3=storage_m3(drain.channel),
        rows=(
            *_capacity_rows(drain, inflow_m3_s, capacities, criteria),
            *_pipe_rows(drain.pipe, inflow_m3_s, criteria),
            *check_site(drain.site, channel_depth_m=drain.channel.section.depth_m, criteria=criteria),
        ),
        clogging=tuple(
            _clog_case(drain, inflow_m3_s, capacities.with_clogging(drain, frac, criteria=criteria), frac)
            for frac in clogged_fracs
        ),
        cautions=_cautions(drain),
    )


def _ponding(drain: TrenchDrain, flow_m3_s: float, clogged_frac: float) -> float:
    return ponding_depth_m(drain.grate, flow_m3_s=flow_m3_s, clogged_frac=clogged_frac)


def _clog_case(drain: TrenchDrain, inflow_m3_s: float, capacities: Capacities, clogged_frac: float) -> ClogCase:
    return ClogCase(
        clogged_frac=clogged_frac,
        capacity_m3_s=capacities.drain_m3_s,
        bypass_m3_s=max(inflow_m3_s - capacities.drain_m3_s, 0.0),
        ponding_depth_m=_ponding(drain, inflow_m3_s, clogged_frac),
        limited_by=capacities.limited_by,
    )


def _capacity_rows(
    drain: TrenchDrain, inflow_m3_s: float, capacities: Capacities, criteria: Criteria
) -> list[CheckRow]:
    clogged = criteria.hydraulics.trench_drain_clogged_frac
    deepest = criteria.hydraulics.trench_drain_ponding_max_m
    is_weir = deepest < crossover_depth_m(drain.grate, clogged_frac=clogged)
    over = find_profile(drain.channel, inflow_m3_s=inflow_m3_s).overflow_x_m
    no_pipe = () if drain.pipe else (CheckReason.NO_PIPE,)

    return [
        _carries(
            inflow_m3_s,
            "The grate takes the inflow",
            "grate_m3_s",
            capacities.grate_m3_s,
            _GRATE_SOURCE,
            reasons=(CheckReason.GRATE_STATE,),
            facts=(
                ("depth_m", deepest),
                ("law", InflowLaw.WEIR if is_weir else InflowLaw.ORIFICE),
                ("clogged_frac", clogged),
            ),
        ),
        _carries(
            inflow_m3_s,
            "The channel carries it below the grate",
            "channel_m3_s",
            capacities.channel_m3_s,
            _CHANNEL_SOURCE,
            reasons=(CheckReason.FREE_FALL if over is None else CheckReason.STANDS_ABOVE_GRATE,),
            facts=() if over is None else (("from_m", over[0]), ("to_m", over[1])),
        ),
        _carries(
            inflow_m3_s,
            "The pipe carries it",
            "pipe_m3_s",
            capacities.pipe_m3_s,
            _PIPE_SOURCE,
            reasons=no_pipe or (CheckReason.BRIMFUL,),
        ),
        _carries(
            inflow_m3_s,
            "Channel and pipe together carry it",
            "joint_m3_s",
            capacities.joint_m3_s if drain.pipe else None,
            _CHANNEL_SOURCE,
            reasons=no_pipe,
        ),
    ]


def _carries(
    inflow_m3_s: float,
    check: str,
    statistic: str,
    value: float | None,
    source: str,
    *,
    reasons: tuple[CheckReason, ...],
    facts: Facts = (),
) -> CheckRow:
    """Whether a part takes the inflow."""
    return CheckRow(
        check=check,
        statistic=statistic,
        value=value,
        operator=Operator.AT_LEAST,
        threshold=inflow_m3_s,
        unit="m3_s",
        source=source,
        reasons=reasons,
        facts=facts,
    )


def _pipe_rows(pipe: OutletPipe | None, inflow_m3_s: float, criteria: Criteria) -> list[CheckRow]:
    source = sources(criteria)
    least = criteria.hydraulics.outlet_pipe_slope_min_pct / 100.0
    needed, for_flow = float("nan"), float("nan")
    if pipe is not None:
        for_flow = slope_for_flow(pipe.section, flow_m3_s=inflow_m3_s, roughness=pipe.roughness)
        needed = max(least, for_flow) * pipe.length_m
    velocity = None if pipe is None or pipe.slope <= 0.0 else pipe.full_velocity_m_s
    shared = ("outlet_pipe_slope_min_pct", "outlet_pipe_velocity_min_m_s", "outlet_pipe_velocity_max_m_s")
    slope_from, settles_from, scours_from = (source[name] for name in shared)
    slope_pct = None if pipe is None else pipe.slope * 100.0
    settles, scours = criteria.hydraulics.outlet_pipe_velocity_min_m_s, criteria.hydraulics.outlet_pipe_velocity_max_m_s
    fall = None if pipe is None else pipe.fall_m
    still = (CheckReason.NO_VELOCITY,) if velocity is None else ()
    return [
        CheckRow(
            check="The pipe has its least slope",
            statistic="pipe_slope_pct",
            value=slope_pct,
            operator=Operator.AT_LEAST,
            threshold=criteria.hydraulics.outlet_pipe_slope_min_pct,
            unit="pct",
            source=slope_from,
        ),
        CheckRow(
            check="The fall is enough for the least slope and the inflow",
            statistic="fall_m",
            value=fall,
            operator=Operator.AT_LEAST,
            threshold=needed,
            unit="m",
            source=f"{slope_from}; {_PIPE_SOURCE}",
            reasons=(CheckReason.NO_PIPE if pipe is None else CheckReason.SLOPE_FOR_INFLOW,),
            facts=() if pipe is None else (("slope_frac", for_flow),),
        ),
        CheckRow(
            check="The full pipe keeps sediment moving",
            statistic="velocity_m_s",
            value=velocity,
            operator=Operator.AT_LEAST,
            threshold=settles,
            unit="m_s",
            source=settles_from,
            reasons=still,
        ),
        CheckRow(
            check="The full pipe does not wear or scour",
            statistic="velocity_m_s",
            value=velocity,
            operator=Operator.AT_MOST,
            threshold=scours,
            unit="m_s",
            source=scours_from,
            reasons=still,
        ),
    ]


def _cautions(drain: TrenchDrain) -> tuple[DrainCaution, ...]:
    return tuple(each for each in DrainCaution if drain.pipe is None or each is not DrainCaution.NO_PIPE)
