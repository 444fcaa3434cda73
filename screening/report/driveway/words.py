"""The driveway study in words: a summary for a terminal, and the cautions that go with a drain across a driveway."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from screening.hydraulics.drain_site import DrainSite, check_site
from screening.hydraulics.rows import CheckRow
from screening.models import BlockResult
from screening.report.cautions import TAGLINE
from screening.report.findings import clip_text, format_cell, format_unit_value, is_missing
from screening.report.terminal import fit_lines
from screening.report.words import with_sentences
from screening.report.words.driveways import sheds_lines
from screening.report.words.hydraulics import reason_words
from screening.report.words.storage import caution_words
from screening.schema.codes.driveways import DrivewayForm
from screening.schema.codes.verdicts import Outcome
from screening.schema.columns import DRIVEWAY_COLUMNS
from screening.schema.criteria import Criteria
from screening.storage.cautions import digging_cautions
from screening.units import UnitSystem, format_value

_ALONE = 3
"""Up to this many driveways are described one by one; more get a line each."""
_LONGEST = 12
_COLUMNS = {column.name: column for column in DRIVEWAY_COLUMNS}
_OUTCOMES = {Outcome.PASSED: "holds", Outcome.FAILED: "does not hold", Outcome.NOT_ASSESSED: "not assessed"}


def describe_driveways(result: BlockResult, site: DrainSite, *, units: UnitSystem = "metric", title: str = "") -> str:
    """Say in a few lines where driveways shed their water and how much reaches a garage.

    Parameters
    ----------
    result
        With the driveways that were asked for.
    site
        What is known of the place of a drain across a driveway.
    units
        What readers see.
    title
        Heading.

    Returns
    -------
    Lines of at most 100 characters.
    """
    told: Any = with_sentences("driveways", result.driveways, result.criteria, units)
    table = told.sort_values("wall_peak_l_s", ascending=False, na_position="last")
    lines = [f"{title or 'Driveways'} ({TAGLINE[0].lower()}{TAGLINE[1:]})"]
    if len(table) <= _ALONE:
        for row in table.to_dict("records"):
            lines += _one(result, row, units)
    else:
        lines.append(f"{len(table)} driveways, most water at a garage first ({result.storm.rain.label}):")
        lines += [_line(row, units) for row in table.head(_LONGEST).to_dict("records")]
        if len(table) > _LONGEST:
            lines.append(f"  and {len(table) - _LONGEST} more in driveways.csv")
    lines.append("Before any work: " + "; ".join(_short_cautions(site, result.criteria, units)) + ".")
    return fit_lines(lines, most=3)


def heading_of(result: BlockResult) -> str:
    """Head a page: one driveway with the water at its garage line, several with the most of theirs."""
    table = result.driveways
    storm = result.storm.rain.label
    worst = table.sort_values("wall_peak_l_s", ascending=False, na_position="last").iloc[0]
    flow = _flow_words(worst["wall_peak_l_s"], worst["wall_peak_gpm"])
    name = clip_text(str(worst["driveway_id"]), 24)
    if len(table) == 1:
        return f"Driveway {name}: {flow} at the garage line, {storm}"
    return f"{len(table)} driveways, at most {flow} at the garage line of {name}, {storm}"


def _one(result: BlockResult, row: dict[str, Any], units: UnitSystem) -> list[str]:
    study = result.driveway_study
    told = with_sentences("driveway_storms", study.storms, result.criteria, units)
    storms = told[told["driveway_id"] == row["driveway_id"]].to_dict("records")
    lot = f", lot {clip_text(row['lot_id'], 24)}" if row["lot_id"] else ""
    lines = [f"Driveway {clip_text(row['driveway_id'], 24)}{lot}"]
    if row["shape_note"]:
        lines.append(f"  Mind: {row['shape_note']}")
    if not storms:
        return lines
    lines += [f"  At the garage line, {_storm_words(storm, units)}" for storm in storms]
    lines += [f"  {line}" for line in sheds_lines(row["shed_shares"])]
    edges = study.edges[(study.edges["driveway_id"] == row["driveway_id"]) & (study.edges["share_frac"] >= 0.05)]
    for edge in edges.sort_values("share_frac", ascending=False).head(4).to_dict("records"):
        to = f"{edge['sheds_to']} {edge['sheds_to_id']}".strip()
        metres = f"{format_value(edge['from_m'], 'm', units)} to {format_value(edge['to_m'], 'm', units)}"
        lines.append(
            f"  - {edge['share_frac']:.0%} over the edge from {metres}, {to}: "
            f"{format_value(edge['volume_l'], 'l', units)}, {_flow_words(edge['peak_l_s'], edge['peak_gpm'])}"
        )
    lines.append(f"  {_shape_words(row, units)}")
    above = format_cell(row["run_on_area_m2"], _COLUMNS["run_on_area_m2"], units)
    lines.append(f"  Uphill: {above} of other ground drains onto it; {int(row['n_low_points'])} low points hold water")
    return lines


def _storm_words(storm: dict[str, Any], units: UnitSystem) -> str:
    rain = format_value(storm["rain_mm"], "mm", units)
    flow = _flow_words(storm["wall_peak_l_s"], storm["wall_peak_gpm"])
    if is_missing(storm["wall_peak_l_s"]):
        flow = f"peak {storm['peak_method']}"
    return f"{clip_text(storm['storm'], 40)} ({rain}): {flow}, {format_value(storm['wall_m3'], 'm3', units)}"


def _flow_words(l_s: float, gpm: float) -> str:
    """Both units: grates and pumps are sold in one, code speaks the other."""
    return "not assessed" if is_missing(l_s) else f"{l_s:.1f} L/s ({gpm:.0f} gpm)"


def _shape_words(row: dict[str, Any], units: UnitSystem) -> str:
    long = f"{format_cell(row['long_slope_pct'], _COLUMNS['long_slope_pct'], units)} along"
    long += f" to the {row['long_falls_to']}" if row["long_falls_to"] else ""
    across = f"{format_cell(row['cross_slope_pct'], _COLUMNS['cross_slope_pct'], units)} across"
    across += f" to the {row['cross_falls_to']}" if row["cross_falls_to"] else ""
    words = f"Shape: {row['shape']}; {long}, {across}"
    if not is_missing(row["line_offset_m"]):
        which = "high" if row["shape"] == DrivewayForm.CROWNED else "low"
        off = format_value(row["line_offset_m"], "m", units)
        words += f"; {which} line {off} off the middle" + (
            f" to the {row['line_offset_to']}" if row["line_offset_to"] else ""
        )
    return words


def _line(row: dict[str, Any], units: UnitSystem) -> str:
    flow = _flow_words(row["wall_peak_l_s"], row["wall_peak_gpm"])
    return f"  {clip_text(row['driveway_id'], 16)}: {flow} at the garage line. {row['sheds'] or row['shape_note']}"


def drain_rows(site: DrainSite, *, criteria: Criteria) -> tuple[CheckRow, ...]:
    """Check what is known of the place of a drain: the dig, the load, the way on, and leave to discharge."""
    return check_site(site, channel_depth_m=site.cut_depth_m or 0.0, criteria=criteria)


def drain_cautions(site: DrainSite, *, criteria: Criteria, units: UnitSystem = "metric") -> list[str]:
    """Put the checks of the place of a drain, and the rules for the dig, in words."""
    rows = drain_rows(site, criteria=criteria)
    said = []
    for row in rows:
        required = f" (threshold {format_unit_value(row.threshold, row.unit, units)})" if row.unit == "m" else ""
        words = reason_words(row.reasons, row.facts)
        note = f": {words}" if words and row.outcome is not Outcome.PASSED else ""
        said.append(f"{row.check}{required}: {_OUTCOMES[row.outcome]}{note} [{row.source}].")
    return [*said, *(caution_words(caution, units) for caution in digging_cautions(site.cut_depth_m))]


def _short_cautions(site: DrainSite, criteria: Criteria, units: UnitSystem) -> Sequence[str]:
    shallow, deep = (
        format_value(depth, "m", units)
        for depth in (criteria.hydraulics.excavation_egress_depth_m, criteria.hydraulics.excavation_protection_depth_m)
    )
    dig = f"a cut of {shallow} needs a way out for people and one of {deep} protection against cave-in"
    if site.cut_depth_m is not None:
        due = [
            what
            for depth, what in (
                (criteria.hydraulics.excavation_egress_depth_m, "a way out for people"),
                (criteria.hydraulics.excavation_protection_depth_m, "protection against cave-in"),
            )
            if site.cut_depth_m >= depth
        ]
        cut = format_value(site.cut_depth_m, "m", units)
        dig = f"the cut of {cut} needs {' and '.join(due)}" if due else f"the cut of {cut} is under {shallow}"
    open_rows = [row for row in drain_rows(site, criteria=criteria) if row.outcome != "passed" and row.unit != "m"]
    words = {
        "load_kn": "grate load class",
        "has_overflow_path": "overflow path",
        "has_discharge_permission": "permission",
    }
    unsettled = ", ".join(
        f"{words[row.statistic]} {_OUTCOMES[row.outcome]}" for row in open_rows if row.statistic in words
    )
    return [
        "have utilities located",
        dig,
        *([unsettled] if unsettled else []),
    ]
