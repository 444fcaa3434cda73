"""A trench drain of the default measures, tried in a line: how it lies, what it takes, what is checked."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.hydraulics.channel import Channel, storage_m3
from screening.hydraulics.drain_check import TrenchDrainAssessment, assess_trench_drain
from screening.hydraulics.drain_site import DrainSite
from screening.hydraulics.grates import Grate
from screening.hydraulics.outlet import OutletPipe
from screening.hydraulics.rows import CheckRow
from screening.hydraulics.sections import TrenchSection
from screening.hydraulics.trench_drain import TrenchDrain
from screening.models import Verdict, said
from screening.outfall.laid_channel import LaidChannel
from screening.schema.codes.verdicts import Aspect, Operator, Outcome, SubjectKind
from screening.schema.criteria import Criteria, sources
from screening.units import MM_PER_M

if TYPE_CHECKING:
    from screening.outfall.daylight import DrainOutlet


def try_drain(
    laid: LaidChannel, outlet: DrainOutlet, *, inflow_m3_s: float, criteria: Criteria
) -> TrenchDrainAssessment:
    """Try a trench drain of the default measures in a line.

    Parameters
    ----------
    laid
        How it lies.
    outlet
        Where its pipe leads; without an outfall what depends on the pipe is not assessed.
    inflow_m3_s
        Peak that comes to it [m3/s].
    criteria
        The `trench_drain_` and `outlet_pipe_` measures and thresholds.

    Returns
    -------
    Its assessment. The channel has its own depth all along, even where it lies deeper: what it carries is no more
    than that.
    """
    channel = _channel(laid, criteria)
    grate = Grate(
        width_m=criteria.hydraulics.trench_drain_top_width_m,
        length_m=laid.length_m,
        open_frac=criteria.hydraulics.trench_drain_open_frac,
    )
    pipe = None
    if outlet.line is not None:
        pipe = OutletPipe(
            diameter_m=criteria.hydraulics.outlet_pipe_diameter_m,
            length_m=outlet.length_m,
            fall_m=outlet.fall_available_m,
            roughness=criteria.hydraulics.outlet_pipe_n,
        )
    drain = TrenchDrain(channel=channel, grate=grate, pipe=pipe, site=DrainSite(cut_depth_m=laid.cut_depth_m))
    return assess_trench_drain(drain, inflow_m3_s=inflow_m3_s, criteria=criteria, clogged_fracs=())


def _channel(laid: LaidChannel, criteria: Criteria) -> Channel:
    section = TrenchSection(
        criteria.hydraulics.trench_drain_base_width_m,
        criteria.hydraulics.trench_drain_top_width_m,
        criteria.hydraulics.trench_drain_depth_m,
    )
    return Channel(
        section=section, length_m=laid.length_m, invert_slope=laid.slope, roughness=criteria.hydraulics.trench_drain_n
    )


def n_units(length_m: float, *, criteria: Criteria) -> int:
    """Count the units that reach along a line, the last of them cut."""
    return math.ceil(round(length_m / criteria.hydraulics.trench_drain_unit_m, 6))


@dataclass(frozen=True, eq=False)
class LineFindings:
    """What is said of a line besides its water: columns of `columns.INTERCEPTION_COLUMNS`, and checks."""

    columns: dict[str, Any]
    rows: tuple[CheckRow, ...]


def line_rows(
    laid: LaidChannel, outlet: DrainOutlet, water: Mapping[str, Any], *, is_tried: bool, criteria: Criteria
) -> LineFindings:
    """Describe and check a line, and the trench drain in it if one is tried.

    Parameters
    ----------
    laid, outlet
        How a channel lies under it, and where that drains to.
    water
        What comes to it: `captured_l_s`, `bypass_frac` and the like.
    is_tried
        Try a drain.
    criteria
        The measures and thresholds.
    """
    peak_m3_s = float(water["captured_l_s"]) / 1000.0
    found = None
    if is_tried and not np.isnan(peak_m3_s) and not np.isnan(laid.invert_m):
        found = try_drain(laid, outlet, inflow_m3_s=peak_m3_s, criteria=criteria)
    rows = _line_checks(outlet, water, criteria)
    return LineFindings(
        {
            "why": _words(outlet, water, found),
            "length_m": laid.length_m,
            "outlet_ground_elev_m": laid.ground_m,
            "outlet_depth_m": laid.depth_m,
            "invert_elev_m": laid.invert_m,
            "channel_slope_pct": laid.slope * 100.0,
            "cut_depth_m": laid.cut_depth_m,
            "outlet": outlet.kind,
            "outlet_length_m": outlet.length_m,
            "fall_available_m": outlet.fall_available_m,
            "fall_needed_m": outlet.fall_needed_m,
            "n_units": n_units(laid.length_m, criteria=criteria),
            "drain_storage_m3": storage_m3(_channel(laid, criteria)) if not np.isnan(laid.slope) else np.nan,
            "drain_capacity_l_s": np.nan if found is None else found.capacities.drain_m3_s * 1000.0,
            "drain_limited_by": "" if found is None else found.capacities.limited_by,
            "drain_bypass_l_s": np.nan if found is None else found.bypass_m3_s * 1000.0,
            "grate_ponding_mm": np.nan if found is None else found.ponding_depth_m * MM_PER_M,
        },
        (*rows, *(() if found is None else found.rows)),
    )


def _line_checks(outlet: DrainOutlet, water: Mapping[str, Any], criteria: Criteria) -> tuple[CheckRow, ...]:
    source = sources(criteria)
    is_open = outlet.line is not None
    short = "" if is_open else "no place was found that is low enough; a pump, or a line further up, would be needed"
    return (
        CheckRow(
            check="Little still comes over the driveway to walls",
            statistic="bypass_frac",
            value=float(water["bypass_frac"]),
            operator="<=",
            threshold=criteria.interception.interception_bypass_max_frac,
            unit="frac",
            source=source["interception_bypass_max_frac"],
        ),
        CheckRow(
            check="Its water has an outfall by gravity",
            statistic="fall_available_m",
            value=outlet.fall_available_m,
            operator=">=",
            threshold=outlet.fall_needed_m,
            unit="m",
            source=source["outlet_pipe_slope_min_pct"],
            note=outlet.runs_to if is_open else short,
        ),
    )


def _words(outlet: DrainOutlet, water: Mapping[str, Any], found: TrenchDrainAssessment | None) -> str:
    """What speaks for a line and against it: shares and words alone, so that it reads the same in every unit."""
    kept = 1.0 - float(water["bypass_frac"])
    said = [f"intercepts {kept:.0%} of what comes over the driveway to walls"]
    said.append("no outfall by gravity was found" if outlet.line is None else outlet.runs_to)
    if water.get("peak_why"):
        said.append(f"peak not assessed: {water['peak_why']}")
    if found is not None and found.bypass_m3_s > 0.0:
        said.append(f"its {found.capacities.limited_by} takes too little")
    elif found is not None:
        said.append("the drain takes the peak" if outlet.line is not None else "grate and channel take the peak")
    return "; ".join(said)


def line_verdicts(rows: tuple[CheckRow, ...], line: Mapping[str, Any]) -> Iterator[Verdict]:
    """Give the checks of a line, and of the drain in it, as verdict rows."""
    for row in rows:
        yield as_verdict(row, lot_id=line["lot_id"], line_id=line["line_id"])


def as_verdict(row: CheckRow, *, lot_id: str, line_id: str) -> Verdict:
    """Give a check of a line, or of the drain in it, as a verdict row."""
    value = None if row.value is None or np.isnan(row.value) else float(row.value)
    return Verdict(
        check_id=row.statistic,
        lot_id=lot_id,
        subject_kind=SubjectKind.INTERCEPTION_LINE,
        subject_id=line_id,
        statistic=row.statistic,
        value=value,
        operator=Operator(row.operator),
        threshold=row.threshold,
        unit=row.unit,
        outcome=Outcome(row.outcome),
        facts=said(check=row.check, source=row.source, note=row.note),
        aspect=Aspect.REMEDY,
    )
