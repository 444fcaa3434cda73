"""Columns of ground that may take water, the routes to it, and the storage there."""

from __future__ import annotations

from screening.schema.columns.kinds import Column, code, code_number, count, flag, number, sentence, text
from screening.schema.columns.shared import EDGE, LOT_ID

_ZONE_ID = text("zone_id", "Zone", "Id of the candidate zone")

ZONE_COLUMNS: tuple[Column, ...] = (
    _ZONE_ID,
    LOT_ID,
    text("status", "Status", "candidate, or soil not assessed where the group is unknown"),
    count("zone_rank", "Order", "1 = look at this zone of the lot first"),
    sentence("why", "Why this order", "What speaks for and against it, in words"),
    number("area_m2", "m2", "Area", "Area that passes every rule"),
    number("width_m", "m", "Width", "Widest circle that fits"),
    number("slope_pct", "pct", "Mean slope", "Mean ground slope"),
    text("hsg", "Soil group", "Hydrologic soil group"),
    number("rate_low_mm_h", "mm_h", "Slowest rate", "Slowest infiltration rate that may be found on site"),
    number("rate_high_mm_h", "mm_h", "Fastest rate", "Fastest infiltration rate that may be found"),
    sentence("rate_basis", "Rate from", "Where the rates come from"),
    number("water_depth_m", "m", "Depth to groundwater", "Seasonal high, as the soils layer gives it"),
    number("restrictive_depth_m", "m", "Depth to a restrictive layer", "Rock or the like, as the soils layer gives it"),
    number("storage_depth_m", "m", "Depth of stone", "Deepest stone that keeps its distance from groundwater and rock"),
    number("structure_m", "m", "To a structure", "Distance to the nearest structure; empty = none near"),
    number("lot_line_m", "m", "To the lot line", "Distance to the line of its own lot"),
    number("well_m", "m", "To a well", "Distance to the nearest well; empty = none near"),
    number("septic_m", "m", "To a septic field", "Distance to the nearest septic field; empty = none near"),
    sentence("tests_owed", "Owed on site", "What must be measured before it is believed"),
    count("n_infiltration_tests", "Tests", "Infiltration tests owed"),
    number("test_depth_m", "m", "Depth of the tests", "Base of the storage, where the rate is measured"),
    number("pit_depth_m", "m", "Depth of the test pit", "Base and the distance to groundwater and rock"),
    code("rate_from", "Rate from", "See `RateBasis`"),
    code("size", "Size", "See `ZoneSize`"),
    code("n_points_reaching", "Points", "Collection points of the lot that reach it by gravity"),
    code("n_points", "Of points", "Collection points of the lot"),
)

REJECTION_COLUMNS: tuple[Column, ...] = (
    LOT_ID,
    text("reason", "Reason", "Why ground of the lot is no candidate"),
    number("first_m2", "m2", "First reason", "Ground of which this is the first reason"),
    number("any_m2", "m2", "Any reason", "Ground for which it holds, whatever else does"),
)

COLLECTION_COLUMNS: tuple[Column, ...] = (
    text("point_id", "Collection point", "Id of the place where water can be caught"),
    LOT_ID,
    text("kind", "Kind", "low spot, interception line, driveway or downspout"),
    text("source_id", "Of", "Id of the low spot, side of a structure, driveway or structure"),
    number("ground_elev_m", "m", "Ground", "Ground at the point"),
    number("area_m2", "m2", "Contributing area", "Ground and roof that drain to it"),
    number("runoff_m3", "m3", "Runoff", "Runoff of that ground, before any is held back"),
    number("own_runoff_m3", "m3", "Own runoff", "That part of it that no point of the lot above it catches"),
    EDGE,
)

ROUTE_COLUMNS: tuple[Column, ...] = (
    text("route_id", "Pipe route", "Id of the route"),
    text("kind", "Kind", "collection = a pipe to a zone; overflow = over ground from a zone"),
    text("point_id", "From", "Collection point; empty for overflow"),
    _ZONE_ID,
    LOT_ID,
    text("reach", "By gravity", "reachable, not reachable or not assessed; over ground for overflow"),
    sentence("why", "Why", "The reason in words"),
    number("length_m", "m", "Length", "Length of the route"),
    number("ground_fall_m", "m", "Fall of the ground", "Ground at its start less ground at its end; negative = uphill"),
    number("fall_available_m", "m", "Fall available", "That fall and how much deeper the storage may lie"),
    number("fall_needed_m", "m", "Fall needed", "Least pipe slope times length"),
    number("pipe_slope_pct", "pct", "Pipe slope", "Mean slope of the pipe with least cover"),
    number("extra_depth_m", "m", "Storage deeper by", "Than under its least cover, so that the pipe falls"),
    number("cover_max_m", "m", "Deepest cover", "Most ground over the pipe, its own width not counted"),
    count("n_structures_crossed", "Structures crossed", "Structures that the route crosses"),
    count("n_lot_lines_crossed", "Lot lines crossed", "Lot lines that the route crosses"),
    sentence("runs_to", "Runs to", "Where overflow comes to first, in words"),
    code("reason", "Reason", "See `RouteReason`"),
    code("end", "End", "What it comes to first: see `RouteEnd`"),
    code("end_id", "End id", "Id of that"),
)

STORAGE_COLUMNS: tuple[Column, ...] = (
    text("storage_id", "Storage", "Id of the storage"),
    _ZONE_ID,
    LOT_ID,
    text("kind", "Kind", "stone = a bed of stone alone; chambers = chambers in stone; empty = not sized"),
    text("status", "Status", "fits, fits at the faster rate only, takes a part, empties too slowly, and the like"),
    sentence("why", "Why", "The reason in words"),
    sentence("compared", "Compared with stone", "What chambers take of what stone alone takes in the same zone"),
    text("points", "Takes water of", "Collection points that reach it by gravity"),
    number("rain_mm", "mm", "Rain", "Rain whose runoff it is sized for"),
    sentence("rain_distribution", "Rain distribution", "How that rain is spread over its hours"),
    number("inflow_m3", "m3", "Inflow", "Runoff of the collection points in that rain, each cell once"),
    number("rate_low_mm_h", "mm_h", "Slowest rate", "Before the safety factor"),
    number("rate_high_mm_h", "mm_h", "Fastest rate", "Before the safety factor"),
    sentence("rate_basis", "Rate from", "Where the rates come from"),
    number("depth_m", "m", "Depth of storage", "Depth of the stone, with the chambers in it"),
    number("base_depth_m", "m", "Depth of the base", "Below ground, with cover and what the pipe asks for"),
    number("volume_low_m3", "m3", "Water held, least", "Water that waits at one time, at the faster rate"),
    number("volume_high_m3", "m3", "Water held, most", "Water that waits at one time, at the slower rate"),
    number("footprint_low_m2", "m2", "Footprint, least", "Base that takes all of the rain, at the faster rate"),
    number("footprint_high_m2", "m2", "Footprint, most", "The same at the slower rate"),
    number("room_m2", "m2", "Room", "Area of the zone"),
    number("built_footprint_m2", "m2", "Footprint taken", "At the slower rate, or the zone where that is less"),
    number("overflow_m3", "m3", "Overflow", "What that footprint leaves over in this rain, at the slower rate"),
    number("drawdown_low_h", "h", "Empties in, least", "Time in which it empties when full, at the faster rate"),
    number("drawdown_high_h", "h", "Empties in, most", "The same at the slower rate"),
    sentence("overflow_to", "Overflow to", "Where overflow comes to first, in words"),
    code("reasons", "Reasons", "Each a `StorageReason`"),
    code("stone_shares", "Shares of stone", "Each a `StoneShare` and its share"),
    code("distribution", "Distribution", "See `RainDistribution`"),
    code_number("distribution_h", "Over", "Hours"),
    code("rate_from", "Rate from", "See `RateBasis`"),
    code("hsg", "Soil group", "Of the zone"),
    code("overflow_end", "Overflow to", "See `RouteEnd`"),
    code("overflow_id", "Overflow to id", "Id of that"),
)

QUANTITY_COLUMNS: tuple[Column, ...] = (
    text("storage_id", "Storage", "Id of the storage"),
    LOT_ID,
    text("quantity", "Quantity", "What is counted"),
    number("low", "", "Least", "Smallest figure, in `unit`"),
    number("high", "", "Most", "Largest figure, in `unit`"),
    text("unit", "Unit", "Unit of both"),
    sentence("basis", "Basis", "The assumption that it rests on"),
    code("assumed", "Assumed", "Range of that assumption"),
    code("sides", "Sides", "See `PitSides`; of the excavation alone"),
)

CAUTION_COLUMNS: tuple[Column, ...] = (
    LOT_ID,
    text("storage_id", "Storage", "Id of the storage"),
    text("key", "Rule", "Name of the rule"),
    text("what", "Quantity", "What was looked at"),
    number("value", "", "Value", "The number of this site, in `unit`; empty = not known"),
    number("limit", "", "Threshold", "With what it is compared"),
    text("unit", "Unit", "Unit of both"),
    sentence("advice", "Advice", "What follows"),
    text("source", "Source", "Where the threshold comes from"),
    flag("is_triggered", "Set off", "The number of this site sets it off"),
    code("known", "Known", "See `Known`"),
    code("overflow_end", "Overflow to", "See `RouteEnd`"),
    code("overflow_id", "Overflow to id", "Id of that"),
)

VISIT_COLUMNS: tuple[Column, ...] = (
    LOT_ID,
    text("part", "Part", "question, level, test or photo"),
    text("item", "Item", "What to ask, shoot, make or take"),
    text("subject_id", "Of", "Id of the finding it is for"),
    number("expected_elev_m", "m", "Expected elevation", "Elevation that the data give, in their datum"),
    number("above_first_m", "m", "Above the first level", "Height above the first level of the lot"),
    number("tolerance_m", "m", "Tolerance", "Error of that height at the 95 % level, from the elevation's"),
    count("n_wanted", "How many", "How many to make or take"),
    number("depth_m", "m", "How deep", "Depth below ground"),
    number("x_m", "m", "Easting", "In the CRS of the grid"),
    number("y_m", "m", "Northing", "In the CRS of the grid"),
    text("why", "Why", "The finding that asks for it"),
)

CAPTURE_TABLES: dict[str, tuple[Column, ...]] = {
    "infiltration_rejections": REJECTION_COLUMNS,
    "collection_points": COLLECTION_COLUMNS,
    "collection_routes": ROUTE_COLUMNS,
    "storage_options": STORAGE_COLUMNS,
    "quantities": QUANTITY_COLUMNS,
    "site_cautions": CAUTION_COLUMNS,
    "visit_sheet": VISIT_COLUMNS,
}
"""Columns by the name of the table, for the tables of this module that stand for themselves."""
