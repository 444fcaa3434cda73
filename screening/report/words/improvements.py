"""Words of the comparison of a block before and after improvements, and of the checks of these."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from screening.report.words.hydraulics import reason_words
from screening.schema.checks import checks_by_id
from screening.schema.codes.improvements import Subject
from screening.schema.criteria import Criteria
from screening.units import UnitSystem

if TYPE_CHECKING:
    from screening.report.words import Teller

_ON_A_LOT = {"run_on_m3": "Run-on", "peak_l_s": "Peak onto the lot"}
_COMPARED: dict[str, dict[str, str]] = {
    Subject.LOT: _ON_A_LOT,
    Subject.NEIGHBOUR: _ON_A_LOT,
    Subject.STRUCTURE: {
        "wall_inflow_m3": "Water at the walls",
        "peak_l_s": "Peak at the walls",
        "pond_depth_storm_m": "Water standing at the walls",
    },
    Subject.LOW_SPOT: {"ponded_m3": "Water left standing", "storm_depth_m": "Its depth"},
    Subject.IMPROVEMENTS: {"taken_m3": "Takes"},
    Subject.WINDOW: {
        "rain_m3": "Rain",
        "abstracted_m3": "Taken up by the ground",
        "runoff_m3": "Runoff",
        "ponded_m3": "Left standing",
        "left_window_m3": "Left the window or taken off the ground",
        "taken_off_m3": "Taken off the ground, nothing held back",
        "moved_m3": "Leaves the window where less left it before",
    },
}
"""What is compared, by subject and statistic."""


def compared_words(row: Any) -> str:
    """Say what a row of the comparison compares."""
    if row["subject_kind"] == Subject.CHECK:
        return checks_by_id()[row["check_id"]].asks
    return _COMPARED[row["subject_kind"]][row["statistic"]]


def _what(row: Any, criteria: Criteria, units: UnitSystem) -> str:
    return compared_words(row)


def _note(row: Any, criteria: Criteria, units: UnitSystem) -> str:
    return reason_words(row["reasons"], row["facts"])


TELLERS: dict[tuple[str, str], Teller] = {
    ("comparison", "what"): _what,
    ("improvement_checks", "note"): _note,
}
"""What tells each sentence, by table and column."""
