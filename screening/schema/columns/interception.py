"""Columns of lines that intercept the water of a driveway, and of the outfalls of their drains."""

from __future__ import annotations

from screening.schema.columns.kinds import Column, code, code_number, count, number, sentence, text
from screening.schema.columns.shared import EDGE, LOT_ID

_LINE_ID = text("line_id", "Interception line", "Id of the candidate line")
_DRIVEWAY_ID = text("driveway_id", "Driveway", "Id of the driveway that it crosses")
_LINE_RANK = count("line_rank", "Order", "1 = look at this line of the driveway first")

INTERCEPTION_COLUMNS: tuple[Column, ...] = (
    _LINE_ID,
    _DRIVEWAY_ID,
    LOT_ID,
    text("structure_id", "For the walls of", "Structure whose walls take most of the driveway's water"),
    _LINE_RANK,
    sentence("why", "Why this order", "What speaks for and against it, in words"),
    text("place", "Place", "garage front, mid-slope or street side"),
    text("runs", "Runs", "across the driveway, along the contour or along the wall"),
    number("length_m", "m", "Length", "From edge to edge of the driveway"),
    number("from_wall_m", "m", "From the wall", "Distance from those walls"),
    number("arriving_m3", "m3", "Arrives without it", "Storm runoff that comes over the driveway to walls on the lot"),
    number("arriving_l_s", "l_s", "Peak without it", "Peak of that water"),
    number("captured_m3", "m3", "Captured", "Storm runoff that comes to the line"),
    number("captured_l_s", "l_s", "Peak captured", "Peak flow that comes to the line"),
    number("captured_area_m2", "m2", "Ground that drains to it", "Ground and roof whose water the line takes"),
    number("intercepted_m3", "m3", "Intercepted", "Part of what it captures that would have come to walls"),
    number("bypass_m3", "m3", "Bypasses", "Storm runoff that still comes over the driveway to walls"),
    number("bypass_l_s", "l_s", "Peak of the bypass", "Peak of that water"),
    number("bypass_frac", "frac", "Share that bypasses it", "Of what arrives without the line"),
    number("outlet_ground_elev_m", "m", "Ground at the outlet end", "At the lower end of the line"),
    number("outlet_depth_m", "m", "Depth at the outlet end", "From the ground there to the invert of the channel"),
    number("invert_elev_m", "m", "Invert at the outlet end", "Where the outlet pipe begins"),
    number("channel_slope_pct", "pct", "Fall of the channel", "Of its invert toward the outlet end"),
    number("cut_depth_m", "m", "Deepest cut", "For the channel along the line, bedding included"),
    text("outlet", "Outfall", "Where its water may go by gravity, or that no outfall was found"),
    number("outlet_length_m", "m", "Length of the pipe", "From the outlet end to there"),
    number("fall_available_m", "m", "Fall available", "Invert at the outlet end less invert of the pipe's end"),
    number("fall_needed_m", "m", "Fall needed", "Least pipe slope times length"),
    count("n_units", "Units", "Units of the drain that reach from edge to edge"),
    number("drain_storage_m3", "m3", "Channel holds", "Water in the channel with its outlet blocked"),
    number("drain_capacity_l_s", "l_s", "Drain takes", "Grate, channel and pipe together; empty = not tried"),
    text("drain_limited_by", "Limited by", "grate, channel or pipe"),
    number("drain_bypass_l_s", "l_s", "Drain leaves over", "Peak captured that the drain does not take"),
    number("grate_ponding_mm", "mm", "Water over the grate", "Depth that takes the peak, clogged as stated"),
    count("n_lines_tried", "Lines tried", "Lines across this driveway that were compared"),
    EDGE,
    code("outlet_zone_id", "Outfall zone", "Id of the zone where the outfall is one"),
    code("peak_code", "Peak by", "A `codes.storm.PeakCode`"),
    code_number("peak_limit", "Limit of the method", "The number of that code, NaN where it has none"),
)

DRAIN_OUTLET_COLUMNS: tuple[Column, ...] = (
    _LINE_ID,
    _DRIVEWAY_ID,
    LOT_ID,
    _LINE_RANK,
    text("kind", "Kind", "daylight on the lot, daylight at the street, or infiltration candidate"),
    sentence("runs_to", "Runs to", "The place in words"),
    number("length_m", "m", "Length", "Length of the pipe"),
    number("start_elev_m", "m", "Invert at its start", "That of the channel at its outlet end"),
    number("end_elev_m", "m", "Invert at its end", "The ground, where it comes to daylight"),
    number("fall_available_m", "m", "Fall available", "Invert at its start less invert at its end"),
    number("fall_needed_m", "m", "Fall needed", "Least pipe slope times length"),
    code("zone_id", "Zone", "Id of the zone where it ends in one"),
)

INTERCEPTION_TABLES: dict[str, tuple[Column, ...]] = {
    "interception_lines": INTERCEPTION_COLUMNS,
    "drain_outlets": DRAIN_OUTLET_COLUMNS,
}
"""Columns by the name of the table."""
