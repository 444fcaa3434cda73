"""Words that verdicts carry until they carry codes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from screening.schema.codes.structures import ExposureKind, Side
from screening.structures.fall_away import judge_fall
from screening.units import format_value

if TYPE_CHECKING:
    import pandas as pd


def wall_words(side: str) -> str:
    """Name a side with its article; `its walls` where there is no telling which."""
    return "its walls" if side in ("", Side.ALL) else f"the {side} side"


def unknown_words(row: pd.Series) -> str:
    """Say why the exposure of a structure is not assessed; empty where it is."""
    if row["exposure"] != ExposureKind.NOT_ASSESSED:
        return ""
    if row["lowest_adjacent_grade_m"] != row["lowest_adjacent_grade_m"]:
        return "No elevation at its walls."
    said = "An enclosed courtyard has no outlet over ground: look for a drain."
    fall, wall, error = row["fall_away_pct"], wall_words(row["fall_away_side"]), row["fall_error_pct"]
    if judge_fall(fall, row["fall_required_pct"], error) != "failed":
        return said
    how = f"{format_value(abs(fall), 'pct')} toward" if fall < 0 else f"only {format_value(fall, 'pct')} away from"
    return f"{said} The ground falls {how} {wall} (indicative: error {format_value(error, 'pct')})."
