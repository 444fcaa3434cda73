"""Reasons in words, made from the columns that they stand beside, in the units of the reader."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from screening.schema.codes.verdicts import Outcome
from screening.schema.criteria import Criteria
from screening.structures.fall_away import judge_fall
from screening.structures.walls import ALL_SIDES
from screening.units import UnitSystem, format_value


def exposure_words(row: Mapping[str, Any], criteria: Criteria, system: UnitSystem = "metric") -> str:
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
    if judge_fall(row["fall_away_pct"], row["fall_required_pct"], row["fall_error_pct"]) is Outcome.FAILED:
        said.append(_fall_words(row))
    return ". ".join(said) + "."


def _pond_words(row: Mapping[str, Any], system: UnitSystem) -> str:
    full = format_value(row["pond_depth_full_m"], "m", system)
    words = f"Low spot {row['low_spot_id']} holds water {full} deep against {wall_words(row['pond_side'])} when full"
    storm = format_value(row["pond_depth_storm_m"], "m", system)
    if row["pond_depth_storm_m"] <= 0:
        words += "; this storm leaves none there"
    else:
        words += ", as in this storm" if storm == full else f", {storm} in this storm"
    return words + _threshold_words(row, system)


def _threshold_words(row: Mapping[str, Any], system: UnitSystem) -> str:
    """Say which rain brings water to the wall, and how often it comes."""
    if not row["threshold_rainfall_mm"] > 0:
        return ""
    often = f", which comes {row['threshold_returns']}" if row["threshold_returns"] else ""
    return f"; it takes {format_value(row['threshold_rainfall_mm'], 'mm', system)} of rain to wet it{often}"


def _inflow_side_words(row: Mapping[str, Any], system: UnitSystem) -> str:
    total = format_value(row["contributing_area_m2"], "m2", system)
    there = format_value(row["inflow_side_area_m2"], "m2", system)
    wall = wall_words(row["inflow_side"])
    beyond = row["context_area_m2"]
    far = f", {format_value(beyond, 'm2', system)} of it from beyond the window" if beyond > 0 else ""
    if there == total:
        return f"{total} of ground drains to {wall}{far}"
    return f"{total} of ground drains to its walls, {there} of it to {wall}{far}"


def _fall_words(row: Mapping[str, Any]) -> str:
    fall, wall = row["fall_away_pct"], wall_words(row["fall_away_side"])
    error = format_value(row["fall_error_pct"], "pct")
    how = f"{format_value(abs(fall), 'pct')} toward" if fall < 0 else f"only {format_value(fall, 'pct')} away from"
    return f"The ground falls {how} {wall} (indicative: error {error})"


def wall_words(side: str) -> str:
    """Name a side with its article; `its walls` where there is no telling which."""
    return "its walls" if side in ("", ALL_SIDES) else f"the {side} side"
