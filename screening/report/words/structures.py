"""Structures in words: what reaches their walls, made from the columns that it stands beside."""

from __future__ import annotations

from screening.report.words.depressions import return_words
from screening.report.words.rows import Row, Teller
from screening.report.words.sides import wall_words
from screening.schema.criteria import Criteria
from screening.structures.fall_away import judge_fall
from screening.units import UnitSystem, format_value


def exposure_words(row: Row, criteria: Criteria, system: UnitSystem = "metric") -> str:
    """Say for a reader what reaches a structure, where and how much.

    Parameters
    ----------
    row
        `columns.STRUCTURE_COLUMNS`.
    criteria
        `low_spot_min_depth_m`, `structure_area_flag_m2`.
    system
        Units of the numbers.

    Returns
    -------
    One or two sentences, three where the ground falls toward a wall as well.
    """
    if row["lowest_adjacent_grade_m"] != row["lowest_adjacent_grade_m"]:
        return "No elevation at its walls."
    ponds = row["pond_depth_full_m"] >= criteria.depressions.low_spot_min_depth_m
    runs = row["contributing_area_m2"] >= criteria.structures.structure_area_flag_m2
    said = []
    if ponds:
        said.append(_pond_words(row, system))
    if runs:
        said.append(_inflow_side_words(row, system))
    if row["has_enclosed_courtyard"]:
        said.append("An enclosed courtyard has no outlet over ground: look for a drain")
    if not said:
        area = format_value(row["contributing_area_m2"], "m2", system)
        said.append(f"Little ground drains to its walls ({area}), and no low spot stands against them")
    if judge_fall(row["fall_away_pct"], row["fall_required_pct"], row["fall_error_pct"]) == "failed":
        said.append(_fall_words(row))
    return ". ".join(said) + "."


def wetting_words(row: Row, does: str, system: UnitSystem) -> str:
    """Say which rain does something to a wall, such as wet it, and how often it comes; empty where none is known."""
    if not row["threshold_rainfall_mm"] > 0:
        return ""
    often = return_words(row)
    comes = f", which comes {often}" if often else ""
    return f"{format_value(row['threshold_rainfall_mm'], 'mm', system)} of rain {does}{comes}"


def _pond_words(row: Row, system: UnitSystem) -> str:
    full = format_value(row["pond_depth_full_m"], "m", system)
    words = f"Low spot {row['low_spot_id']} holds water {full} deep against {wall_words(row['pond_side'])} when full"
    storm = format_value(row["pond_depth_storm_m"], "m", system)
    if row["pond_depth_storm_m"] <= 0:
        words += "; this storm leaves none there"
    else:
        words += ", as in this storm" if storm == full else f", {storm} in this storm"
    rain = wetting_words(row, "to wet it", system)
    return words + (f"; it takes {rain}" if rain else "")


def _inflow_side_words(row: Row, system: UnitSystem) -> str:
    total = format_value(row["contributing_area_m2"], "m2", system)
    there = format_value(row["inflow_side_area_m2"], "m2", system)
    wall = wall_words(row["inflow_side"])
    beyond = row["context_area_m2"]
    far = f", {format_value(beyond, 'm2', system)} of it from beyond the window" if beyond > 0 else ""
    if there == total:
        return f"{total} of ground drains to {wall}{far}"
    return f"{total} of ground drains to its walls, {there} of it to {wall}{far}"


def _fall_words(row: Row) -> str:
    fall, wall = row["fall_away_pct"], wall_words(row["fall_away_side"])
    error = format_value(row["fall_error_pct"], "pct")
    how = f"{format_value(abs(fall), 'pct')} toward" if fall < 0 else f"only {format_value(fall, 'pct')} away from"
    return f"The ground falls {how} {wall} (indicative: error {error})"


def _returns(row: Row, criteria: Criteria, units: UnitSystem) -> str:
    return return_words(row)


TELLERS: dict[tuple[str, str], Teller] = {
    ("structures", "exposure_why"): exposure_words,
    ("structures", "threshold_returns"): _returns,
}
"""What tells each sentence, by table and column."""
