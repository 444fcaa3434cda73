"""Columns of improvements that are tried out, and of what they change."""

from __future__ import annotations

from screening.schema.columns.kinds import Column, code, flag, number, sentence, text, told
from screening.schema.columns.shared import LOT_ID

IMPROVEMENT_COLUMNS: tuple[Column, ...] = (
    text("improvement_id", "Work", "Id of the improvement"),
    text("kind", "Kind", "Trench drain, swale, berm, wall, regrade, culvert, downspout, outlet or storage"),
    text("leads_to", "Leads to", "Outlet or storage that takes its water; off = taken off the ground"),
    number("length_m", "m", "Length", "Of a line"),
    number("area_m2", "m2", "Area", "Of an area"),
    number("height_m", "m", "Height", "Above the ground"),
    number("depth_m", "m", "Depth", "Below the ground; of a trench drain inside"),
    number("slope_pct", "pct", "Slope", "Of a regraded area"),
    number("volume_m3", "m3", "Holds", "Water that a storage holds"),
    number(
        "taken_m3",
        "m3",
        "Takes in the storm",
        "Storm runoff that it takes, before any is held back; of a storage what comes to it",
    ),
    number("taken_spread_m3", "m3", "Takes, if water spreads", "The same with water that spreads over lower cells"),
    number("peak_l_s", "l_s", "Peak that comes to it", "Peak flow, by the method of the lot's peak"),
    number("capacity_l_s", "l_s", "Capacity", "What grate, channel and outlet pipe take, by its own dimensions"),
    text("limited_by", "Limited by", "Which part takes least: grate, channel or pipe"),
    number("cut_max_m", "m", "Deepest cut", "Largest cut below the ground"),
    number("fill_max_m", "m", "Highest fill", "Largest rise above the ground"),
    number("cut_m3", "m3", "Cut", "Ground taken away by a regrade, on paper only"),
    number("fill_m3", "m3", "Fill", "Ground added by a regrade, on paper only"),
)

COMPARISON_COLUMNS: tuple[Column, ...] = (
    text("subject_kind", "Subject", "lot, neighbour, structure, low spot, check, improvements or window"),
    text("subject_id", "Id", "Id of the subject, as it is before the improvements; a new low spot as it is after them"),
    LOT_ID,
    sentence("what", "What", "What is compared, in words"),
    text("statistic", "Statistic", "Name of the number, with its unit at the end"),
    number("before", "", "Before", "Its value before, in `unit`; of a check the value that is judged"),
    number("after", "", "After", "Its value after"),
    number("difference", "", "Difference", "After less before"),
    text("unit", "Unit", "Unit of the three"),
    text("outcome_before", "Outcome before", "Of a check: passed, failed or not assessed"),
    text("outcome_after", "Outcome after", "The same after the improvements"),
    text(
        "result",
        "Result",
        "worse, better, same, new, gone, changed or not assessed; of an improvement takes water, takes nothing or "
        "too small",
    ),
    flag("is_red_flag", "Red flag", "Gets worse by more than the criteria allow"),
    code("check_id", "Check", "Of a check: its name"),
)

LOT_CHANGE_COLUMNS: tuple[Column, ...] = (
    LOT_ID,
    flag("is_chosen", "Screened", "One of the lots that are screened; else a neighbour in the window"),
    number("run_on_before_m3", "m3", "Run-on before", "Storm runoff that arrives from outside, nothing held back"),
    number("run_on_after_m3", "m3", "Run-on after", "The same with the improvements"),
    number("run_on_difference_m3", "m3", "More run-on", "After less before"),
    number("peak_before_l_s", "l_s", "Peak before", "Peak flow that arrives from outside the lot"),
    number("peak_after_l_s", "l_s", "Peak after", "The same with the improvements"),
    number("peak_difference_l_s", "l_s", "More peak", "After less before"),
    text("result", "Result", "more water, less water or the same"),
    flag("is_red_flag", "Red flag", "Gets more water than the criteria allow"),
    flag(
        "edge_contaminated",
        "Cut by the edge",
        "The window does not show all ground that drains here: both numbers are lower bounds, their difference holds",
    ),
)

IMPROVEMENT_CHECK_COLUMNS: tuple[Column, ...] = (
    text("improvement_id", "Work", "Id of the improvement; empty = all improvements together"),
    text("check", "Check", "What is asked, in words"),
    text("statistic", "Statistic", "The number that is compared"),
    number("value", "", "Value", "Its value, in `unit`"),
    text("operator", "Operator", "How it is compared"),
    number("threshold", "", "Threshold", "With what, in `unit`"),
    text("unit", "Unit", "Unit of value and threshold"),
    text("outcome", "Outcome", "passed, failed or not assessed"),
    text("source", "Source", "Where the threshold comes from"),
    sentence("note", "Note", "What the reader must know beside it"),
    code("reasons", "Reasons", "Each a `codes.hydraulics.CheckReason`"),
    code("facts", "Facts", "Numbers and names that its words need"),
)

IMPROVEMENT_TABLES: dict[str, tuple[Column, ...]] = {
    "improvements": IMPROVEMENT_COLUMNS,
    "comparison": told(COMPARISON_COLUMNS),
    "lot_changes": LOT_CHANGE_COLUMNS,
    "improvement_checks": told(IMPROVEMENT_CHECK_COLUMNS),
}
"""Columns as a reader gets them, by the name of the table or layer that has them."""
