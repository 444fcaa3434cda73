"""Every other output column once, and the tables by name."""

from __future__ import annotations

from screening.schema.columns.capture import CAPTURE_TABLES, ZONE_COLUMNS
from screening.schema.columns.driveways import DRIVEWAY_TABLES, SHED_COLUMNS
from screening.schema.columns.interception import INTERCEPTION_TABLES
from screening.schema.columns.kinds import Column, code, code_number, count, flag, number, sentence, text, told
from screening.schema.columns.shared import (
    BEYOND,
    CONFIDENCE,
    CONFIDENCE_CODES,
    CONFIDENCE_FRAC,
    CONTRIBUTING,
    EDGE,
    LOT_ID,
    RETURN_CODES,
)
from screening.schema.columns.structures import DOOR_COLUMNS, INFLOW_POINT_COLUMNS, SIDE_COLUMNS, STRUCTURE_COLUMNS

SUMMARY_COLUMNS: tuple[Column, ...] = (
    LOT_ID,
    count("visit_rank", "Visit order", "1 = look at this lot first: largest visit score"),
    number(
        "visit_score",
        "",
        "Visit score",
        "Sum of the points of the lot's rows in verdicts: its own checks' and those of what stands on it",
    ),
    sentence("main_finding", "Main finding", "The finding that matters most, in words"),
    code("main_code", "Main finding", "What it is: a `codes.verdicts.MainFinding`"),
    code("main_check_id", "Check of the main finding", "The weightiest failed check, where it is one"),
    code("main_subject_id", "Subject of the main finding", "Id of what failed it"),
    code("main_doubts", "Doubts of the main finding", "`codes.verdicts.Doubt`, joined"),
    count("n_flags", "Flags", "Failed checks for a problem, of the lot and of what stands on it"),
    count("n_not_assessed", "Not assessed", "Checks that could not be made for lack of data or of accuracy"),
    number("area_m2", "m2", "Lot area", "Area of the lot polygon"),
    number("assessed_frac", "frac", "Elevation cover", "Share of the lot with elevation"),
    number("interpolated_frac", "frac", "Interpolated", "Share of the lot whose elevation was a gap, filled in"),
    number("slope_pct", "pct", "Mean slope", "Mean ground slope (Horn)"),
    CONTRIBUTING,
    BEYOND,
    number("off_lot_area_m2", "m2", "Area uphill off the lot", "Ground outside the lot that drains onto it"),
    EDGE,
    text("storm", "Storm", "The rain that the volumes are for"),
    number("rain_mm", "mm", "Rain", "Depth of that rain"),
    text("criteria_profile", "Thresholds", "The set of thresholds, and what was changed in it"),
    number(
        "curve_number",
        "",
        "Curve number",
        "Composite of the lot by area; runoff is added up cell by cell (weighted Q), mostly more than this gives",
    ),
    number("runoff_mm", "mm", "Runoff", "Mean runoff depth on the lot, by the curve number of each cell"),
    number("runoff_m3", "m3", "Runoff of the lot", "Runoff volume that the lot itself sheds"),
    number(
        "run_on_m3",
        "m3",
        "Run-on",
        "Runoff volume that arrives from outside the lot, before any is held back",
    ),
    number(
        "tc_min",
        "min",
        "Time of concentration",
        "Longest travel time of the water that arrives from outside the lot, at least 5 minutes",
    ),
    number(
        "peak_onto_l_s",
        "l_s",
        "Peak onto the lot",
        "Peak flow that arrives from outside the lot, as if at one place, before any is held back",
    ),
    sentence("peak_method", "Peak by", "rational or graphical method, or why the peak is not assessed"),
    code("peak_code", "Peak by", "A `codes.storm.PeakCode`"),
    code_number("peak_limit", "Limit of the method", "The number of that code, NaN where it has none"),
    count("n_structures", "Structures", "Structures on the lot"),
    count("n_structures_flagged", "Structures flagged", "Structures that water stands against or runs to"),
    text("worst_structure_id", "Structure to look at", "The most exposed structure"),
    text("exposure", "Exposure", "Exposure of that structure"),
    count("n_driveways", "Driveways", "Driveways on the lot"),
    count(
        "n_driveways_to_structure",
        "Driveways to a wall",
        "Driveways that shed mostly toward a wall on the lot",
    ),
    count("n_low_spots", "Low spots", "Low spots on or touching the lot"),
    number("low_spot_depth_max_m", "m", "Deepest low spot", "Depth of the deepest of them when full"),
    number("low_spot_volume_m3", "m3", "Low spot volume", "Water that those low spots hold when full"),
    text("hsg", "Soil group", "Hydrologic soil groups of the lot with their shares"),
    number("infiltration_area_m2", "m2", "Infiltration candidate", "Ground that passes slope, soil and setbacks"),
    text("infiltration_status", "Infiltration", "candidate, none found or not assessed"),
    sentence("infiltration_why", "Infiltration, why", "What limits it"),
    text("storage_status", "Storage", "Best that storage on the lot does, none found or not assessed"),
    sentence("storage_why", "Storage, why", "What stands behind it, or in its way"),
    code("infiltration_limits", "Infiltration limits", "Each `codes.capture.Rejection` with its share, packed"),
    code("storage_reason", "Storage reason", "A `codes.capture.LotStorageReason`"),
    code("storage_kind", "Storage kind", "A `codes.capture.StorageKind`, of the best storage"),
    code("storage_reasons", "Storage reasons", "`codes.capture.StorageReason` of the best storage, joined"),
    code_number("storage_room_frac", "Storage room", "Room of its zone over what all of the rain needs"),
    code("n_collection_points", "Collection points", "Of the lot"),
    code("route_reasons", "Route reasons", "Each `codes.outfall.RouteReason` with its count, packed"),
)

DRIVEWAY_COLUMNS: tuple[Column, ...] = (
    text("driveway_id", "Driveway", "Id of the driveway"),
    LOT_ID,
    number("area_m2", "m2", "Area", "Area of the driveway polygon"),
    number(
        "to_structure_frac",
        "frac",
        "Share to a wall",
        "Share of its water that meets a wall on its lot first",
    ),
    number("slope_pct", "pct", "Mean slope", "Mean surface slope (Horn)"),
    CONTRIBUTING,
    BEYOND,
    number("run_on_area_m2", "m2", "Run-on area", "Ground outside the driveway that drains onto it"),
    number("runoff_m3", "m3", "Runoff", "Storm runoff of the driveway and of the ground that drains onto it"),
    flag("is_flagged", "Flagged", "Sheds mostly toward a wall"),
    *SHED_COLUMNS,
    CONFIDENCE_FRAC,
    CONFIDENCE,
    *CONFIDENCE_CODES,
    EDGE,
)

LOW_SPOT_COLUMNS: tuple[Column, ...] = (
    text("low_spot_id", "Low spot", "Id of the low spot"),
    text("part_of", "Part of", "Low spot that it joins with once both are full; empty for an outermost one"),
    text("lot_id", "Lots", "Lots that its full water touches"),
    text("structure_ids", "Structures touched", "Structures whose walls its full water touches"),
    number("depth_max_m", "m", "Depth when full", "Spill elevation minus lowest point"),
    number("volume_m3", "m3", "Volume when full", "Water held below the spill elevation"),
    number("area_m2", "m2", "Area when full", "Area of the full water"),
    number("spill_elev_m", "m", "Spill elevation", "Level at which it overflows"),
    number("pit_elev_m", "m", "Lowest point", "Elevation of its lowest point"),
    CONTRIBUTING,
    BEYOND,
    number(
        "threshold_rainfall_mm",
        "mm",
        "Threshold rainfall",
        "Rain on dry ground after which it overflows, this storm's cover",
    ),
    number(
        "threshold_return_yr",
        "yr",
        "Threshold rainfall comes every",
        "Return period of that rain over the storm's duration",
    ),
    sentence(
        "threshold_returns",
        "Threshold rainfall comes how often",
        "That return period in words, with what lies outside the table",
    ),
    *RETURN_CODES,
    number(
        "inflow_m3",
        "m3",
        "Inflow in the storm",
        "Runoff that reaches it, overflow from above included; of a part: runoff of its own ground",
    ),
    number("ponded_m3", "m3", "Held in the storm", "Water left standing by this storm"),
    number("overflow_m3", "m3", "Overflow in the storm", "Water that overflows out of an outermost low spot"),
    number("storm_depth_m", "m", "Depth in the storm", "Depth at its lowest point after this storm"),
    text("spills_to", "Overflows to", "Low spot that its overflow comes to next, or out of the window"),
    text("spill_path", "On the way", "Lots and structures that the overflow crosses or touches before that"),
    flag(
        "is_enclosed",
        "Enclosed by walls",
        "Its only way over is across a structure: a drain may exist, unseen",
    ),
    number(
        "chance_frac",
        "frac",
        "Made by error alone",
        "Share of the realisations in which the error alone makes one as deep at its place, were it filled",
    ),
    CONFIDENCE_FRAC,
    CONFIDENCE,
    *CONFIDENCE_CODES,
    EDGE,
)

FLOW_PATH_COLUMNS: tuple[Column, ...] = (
    text("flow_path_id", "Flow path", "Id of the reach"),
    CONTRIBUTING,
    BEYOND,
    number("runoff_m3", "m3", "Runoff", "Storm runoff through its lower end, before any is held back"),
    EDGE,
)

OVERFLOW_PATH_COLUMNS: tuple[Column, ...] = (
    text("low_spot_id", "Low spot", "Low spot that overflows in this storm"),
    number("overflow_m3", "m3", "Overflow", "Water that overflows where the line begins"),
    text("spills_to", "To", "Low spot that it comes to next, or out of the window"),
)

CATCHMENT_COLUMNS: tuple[Column, ...] = (LOT_ID, CONTRIBUTING, BEYOND, EDGE)

VERDICT_COLUMNS: tuple[Column, ...] = (
    LOT_ID,
    text(
        "aspect",
        "Aspect",
        "problem = a failure is a flag; remedy = a failure means no place for it was found",
    ),
    text("subject_kind", "Subject", "Lot, structure or driveway"),
    text("subject_id", "Id", "Id of the subject"),
    sentence("check", "Check", "What is asked, in words"),
    text("statistic", "Statistic", "The number that is compared"),
    number("value", "", "Value", "Its value, in `unit`"),
    text("operator", "Operator", "How it is compared"),
    number("threshold", "", "Threshold", "With what, in `unit`"),
    text("unit", "Unit", "Unit of value and threshold"),
    text("outcome", "Outcome", "passed, failed or not assessed"),
    number(
        "points",
        "",
        "Points",
        "Of a failed check for a problem: 1 + distance from the threshold over the threshold, at most 5, "
        "all of it times `weight`; else 0",
    ),
    number("weight", "", "Weight", "Factor of the points, from the criteria"),
    flag("is_indicative", "Indicative", "The data can hint at it, not prove it: a failure has 1 point, times `weight`"),
    CONFIDENCE_FRAC,
    CONFIDENCE,
    *CONFIDENCE_CODES,
    sentence("source", "Source", "Where the threshold comes from"),
    sentence("note", "Note", "What the reader must know beside it"),
    text("check_id", "Check id", "Name of the check"),
    code("reasons", "Reasons", "What to know beside it: `codes.verdicts.VerdictReason`"),
    code("facts", "Facts", "Numbers and names that its words need"),
)

NOTE_COLUMNS: tuple[Column, ...] = (
    text("kind", "Kind", "assumed, converted, repaired, missing or caution"),
    text("subject", "About", "Which input or stage"),
    sentence("text", "Note", "What was done or is not known"),
    code("code", "Code", "Which note it is"),
    code("values", "Values", "Numbers and names that the note tells, by name"),
)

SURFACE_CHANGE_COLUMNS: tuple[Column, ...] = (
    text("change_id", "Change", "Id of the change to the routed surface"),
    text("kind", "Kind", "Curb, wall, berm, swale, ditch, ... or breach"),
    text("source_id", "From", "Id of the barrier or swale; empty for a breach"),
    number("raised_max_m", "m", "Raised by at most", "Largest rise above the ground"),
    number("cut_max_m", "m", "Cut by at most", "Largest cut below the ground"),
    number("area_m2", "m2", "Area changed", "Area of the cells that were changed"),
    number("volume_m3", "m3", "Volume changed", "Ground added or taken away, on paper only"),
)

DECLARED: dict[str, tuple[Column, ...]] = {
    "summary": SUMMARY_COLUMNS,
    "structures": STRUCTURE_COLUMNS,
    "structure_sides": SIDE_COLUMNS,
    "inflow_points": INFLOW_POINT_COLUMNS,
    "doors": DOOR_COLUMNS,
    "driveways": DRIVEWAY_COLUMNS,
    **DRIVEWAY_TABLES,
    "low_spots": LOW_SPOT_COLUMNS,
    "infiltration_zones": ZONE_COLUMNS,
    **CAPTURE_TABLES,
    "storage_checks": VERDICT_COLUMNS,
    **INTERCEPTION_TABLES,
    "drain_checks": VERDICT_COLUMNS,
    "flow_paths": FLOW_PATH_COLUMNS,
    "overflow_paths": OVERFLOW_PATH_COLUMNS,
    "surface_changes": SURFACE_CHANGE_COLUMNS,
    "contributing_areas": CATCHMENT_COLUMNS,
    "verdicts": VERDICT_COLUMNS,
    "notes": NOTE_COLUMNS,
}
"""Columns of the stages' tables, codes and sentences included, by the name of the table or layer that has them."""
TABLES: dict[str, tuple[Column, ...]] = {name: told(columns) for name, columns in DECLARED.items()}
"""Columns of what readers are told, by the same names; codes are left out."""
