"""Every output column once: name, unit, label and meaning. Tables, map and documents read it here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    import geopandas as gpd

ColumnKind = Literal["text", "number", "count", "flag"]


@dataclass(frozen=True)
class Column:
    """One output column; `unit` is the SI unit that ends its name, or empty."""

    name: str
    kind: ColumnKind
    unit: str
    label: str
    meaning: str


def _text(name: str, label: str, meaning: str) -> Column:
    return Column(name, "text", "", label, meaning)


def _count(name: str, label: str, meaning: str) -> Column:
    return Column(name, "count", "", label, meaning)


def _flag(name: str, label: str, meaning: str) -> Column:
    return Column(name, "flag", "", label, meaning)


def _number(name: str, unit: str, label: str, meaning: str) -> Column:
    return Column(name, "number", unit, label, meaning)


_LOT_ID = _text("lot_id", "Lot", "Id of the lot")
_CONTRIBUTING = _number(
    "contributing_area_m2", "m2", "Contributing area", "Ground whose water crosses it (steepest descent)"
)
_BEYOND = _number(
    "context_area_m2",
    "m2",
    "of which from beyond",
    "Part of that ground that lies beyond the window, from coarser elevation; no outline shows it",
)
_EDGE = _flag(
    "edge_contaminated",
    "Cut by the edge",
    "Unseen ground beyond the window may drain here: numbers are a lower bound",
)

_FALL_AWAY = _number(
    "fall_away_pct", "pct", "Fall away, indicative", "Fall of the ground away from the wall; negative = toward it"
)
_FALL_SOUGHT = _number(
    "fall_sought_pct", "pct", "Fall sought", "Least fall away by the residential code, less where it is paved"
)
_FALL_ERROR = _number(
    "fall_error_pct", "pct", "Two-point error", "Error of that fall at the 95 % level, from the elevation's"
)

SUMMARY_COLUMNS: tuple[Column, ...] = (
    _LOT_ID,
    _count("visit_rank", "Visit order", "1 = look at this lot first: largest visit score"),
    _number(
        "visit_score",
        "",
        "Visit score",
        "Sum of the points of the lot's rows in verdicts: its own checks' and those of what stands on it",
    ),
    _text("main_finding", "Main finding", "The finding that matters most, in words"),
    _count("n_flags", "Flags", "Failed checks for a problem, of the lot and of what stands on it"),
    _count("n_not_assessed", "Not assessed", "Checks that could not be made for lack of data or of accuracy"),
    _number("area_m2", "m2", "Lot area", "Area of the lot polygon"),
    _number("assessed_frac", "frac", "Elevation cover", "Share of the lot with elevation"),
    _number("interpolated_frac", "frac", "Interpolated", "Share of the lot whose elevation was a gap, filled in"),
    _number("slope_pct", "pct", "Mean slope", "Mean ground slope (Horn)"),
    _CONTRIBUTING,
    _number("off_lot_area_m2", "m2", "Area uphill off the lot", "Ground outside the lot that drains onto it"),
    _BEYOND,
    _EDGE,
    _text("storm", "Storm", "The rain that the volumes are for"),
    _number("rain_mm", "mm", "Rain", "Depth of that rain"),
    _number("runoff_mm", "mm", "Runoff", "Mean runoff depth on the lot by curve number"),
    _number("runoff_m3", "m3", "Runoff of the lot", "Runoff volume that the lot itself sheds"),
    _number(
        "run_on_m3",
        "m3",
        "Run-on",
        "Runoff volume that arrives from outside the lot, before any is held back",
    ),
    _count("n_structures", "Structures", "Structures on the lot"),
    _count("n_structures_flagged", "Structures flagged", "Structures that water stands against or runs to"),
    _text("worst_structure_id", "Structure to look at", "The most exposed structure"),
    _text("exposure", "Exposure", "Exposure of that structure"),
    _count("n_driveways", "Driveways", "Driveways on the lot"),
    _count(
        "n_driveways_to_structure",
        "Driveways to a wall",
        "Driveways that shed mostly toward a wall on the lot",
    ),
    _count("n_low_spots", "Low spots", "Low spots on or touching the lot"),
    _number("low_spot_depth_max_m", "m", "Deepest low spot", "Depth of the deepest of them when full"),
    _number("low_spot_volume_m3", "m3", "Low spot volume", "Water that those low spots hold when full"),
    _text("hsg", "Soil group", "Hydrologic soil groups of the lot with their shares"),
    _number("infiltration_area_m2", "m2", "Infiltration candidate", "Ground that passes slope, soil and setbacks"),
    _text("infiltration_status", "Infiltration", "candidate, none found or not assessed"),
    _text("infiltration_why", "Infiltration, why", "What limits it"),
)

STRUCTURE_COLUMNS: tuple[Column, ...] = (
    _text("structure_id", "Structure", "Id of the structure"),
    _LOT_ID,
    _text("kind", "Kind", "House, garage, shed or structure"),
    _text("exposure", "Exposure", "ponding, run-on, low or not assessed (on no chosen lot: empty lot)"),
    _text("exposure_why", "Why", "The reason in words"),
    Column("exposure_rank", "count", "", "Order", "1 = look at this structure first: largest exposure score"),
    _number(
        "exposure_score",
        "",
        "Exposure score",
        "Sum of the points of its rows in verdicts; the lot's visit score adds up the same points",
    ),
    _number("contributing_area_m2", "m2", "Contributing area", "Ground whose water meets the walls, roof not counted"),
    _BEYOND,
    _text("arrival_side", "Most arrives at", "Side at which most ground arrives"),
    _number("arrival_side_area_m2", "m2", "Contributing area there", "Ground whose water first meets that side"),
    _number(
        "runoff_arriving_m3",
        "m3",
        "Runoff at the walls",
        "Storm runoff that reaches the walls, roof not counted",
    ),
    _count("n_wall_arrivals", "Flow paths at the walls", "Places where a flow path meets a wall"),
    _number("lowest_adjacent_grade_m", "m", "Lowest adjacent grade", "Lowest ground touching the walls"),
    _text("low_spot_id", "Low spot at the wall", "Low spot whose full water touches the wall"),
    _text("pond_side", "Deepest at", "Side at which the full water is deepest"),
    _number(
        "pond_depth_full_m",
        "m",
        "Depth at the wall, full",
        "Deepest water at the wall when that low spot is full",
    ),
    _number("pond_depth_storm_m", "m", "Depth at the wall, storm", "Deepest water at the wall left by this storm"),
    _number(
        "freeboard_m",
        "m",
        "Freeboard",
        "Lowest adjacent grade above the full water; negative = below its level, though it may be at a dry wall",
    ),
    _text("fall_away_side", "Least fall at", "Side whose fall away is farthest below what is sought"),
    _FALL_AWAY,
    _FALL_SOUGHT,
    _FALL_ERROR,
    _flag("has_court", "Walled court", "A court between walls has no way out over ground"),
    _flag("is_small", "Small footprint", "Narrower than the cells can show"),
    _EDGE,
)

SIDE_COLUMNS: tuple[Column, ...] = (
    _text("side_id", "Wall", "Id of the structure and name of the side"),
    _text("structure_id", "Structure", "Id of the structure"),
    _LOT_ID,
    _text("side", "Side", "Main direction that this part of the wall faces; all sides = too small to tell"),
    _text("exposure", "Exposure", "ponding, run-on, low or not assessed, of this side alone"),
    _number("length_m", "m", "Length", "Length of the wall line, walls shared with another structure left out"),
    _number("contributing_area_m2", "m2", "Contributing area", "Ground whose water meets the walls first at this side"),
    _number("runoff_arriving_m3", "m3", "Runoff", "Storm runoff that meets the walls first at this side"),
    _count("n_wall_arrivals", "Flow paths", "Places where a flow path meets this side"),
    _number("lowest_grade_m", "m", "Lowest grade", "Lowest ground touching this side"),
    _number("pond_depth_full_m", "m", "Depth at the wall, full", "Deepest water at this side when low spots are full"),
    _number("pond_depth_storm_m", "m", "Depth at the wall, storm", "Deepest water at this side left by this storm"),
    _FALL_AWAY,
    _FALL_SOUGHT,
    _FALL_ERROR,
    _number("fall_distance_m", "m", "Measured over", "Distance between the two heights; shorter at a lot line or wall"),
    _number("paved_frac", "frac", "Paved", "Share of the wall with pavement in front"),
    _EDGE,
)

ARRIVAL_COLUMNS: tuple[Column, ...] = (
    _text("arrival_id", "Arrival", "Id of the place where a flow path meets a wall"),
    _text("structure_id", "Structure", "Id of the structure"),
    _LOT_ID,
    _text("side", "Side", "Side of the structure that it meets"),
    _number("contributing_area_m2", "m2", "Contributing area", "Ground that drains along the path to this place"),
    _number("runoff_m3", "m3", "Runoff", "Storm runoff along the path, before any is held back"),
    _number("from_bearing_deg", "deg", "Comes from", "Bearing from the wall up the path: 0 = north, 90 = east"),
    _EDGE,
)

DOOR_COLUMNS: tuple[Column, ...] = (
    _text("door_id", "Door", "Id of the door or other opening"),
    _text("kind", "Kind", "Door, garage, window well, vent, ..."),
    _text("structure_id", "Structure", "Id of its structure; empty = none within reach"),
    _LOT_ID,
    _text("side", "Side", "Side of the structure that it is in"),
    _number("ground_elev_m", "m", "Ground", "Ground beside the wall nearest to it"),
    _number("pond_depth_full_m", "m", "Depth at the wall, full", "Water on that ground when low spots are full"),
    _number("pond_depth_storm_m", "m", "Depth at the wall, storm", "Water on that ground left by this storm"),
    _number("sill_elev_m", "m", "Sill", "Elevation of the sill as given"),
    _number("sill_above_ground_m", "m", "Sill above ground", "Sill above that ground"),
    _number("freeboard_full_m", "m", "Freeboard, full", "Sill above the full water there; negative = below it"),
    _number("freeboard_storm_m", "m", "Freeboard, storm", "Sill above this storm's water there; negative = below it"),
    _number(
        "contributing_area_m2",
        "m2",
        "Contributing area",
        "Ground that drains through the cells beside the wall near it, own roof not counted",
    ),
    _number("runoff_arriving_m3", "m3", "Runoff", "Storm runoff of that ground"),
    _EDGE,
)

DRIVEWAY_COLUMNS: tuple[Column, ...] = (
    _text("driveway_id", "Driveway", "Id of the driveway"),
    _LOT_ID,
    _number("area_m2", "m2", "Area", "Area of the driveway polygon"),
    _number(
        "to_structure_frac",
        "frac",
        "Share to a wall",
        "Share of its water that meets a wall on its lot first",
    ),
    _number("slope_pct", "pct", "Mean slope", "Mean surface slope (Horn)"),
    _CONTRIBUTING,
    _BEYOND,
    _number("run_on_area_m2", "m2", "Run-on area", "Ground outside the driveway that drains onto it"),
    _number("runoff_m3", "m3", "Runoff", "Storm runoff of the driveway and of the ground that drains onto it"),
    _flag("is_flagged", "Flagged", "Sheds mostly toward a wall"),
    _EDGE,
)

LOW_SPOT_COLUMNS: tuple[Column, ...] = (
    _text("low_spot_id", "Low spot", "Id of the low spot"),
    _text("part_of", "Part of", "Low spot that it joins with once both are full; empty for an outermost one"),
    _text("lot_id", "Lots", "Lots that its full water touches"),
    _text("structure_ids", "Structures touched", "Structures whose walls its full water touches"),
    _number("depth_max_m", "m", "Depth when full", "Spill elevation minus lowest point"),
    _number("volume_m3", "m3", "Volume when full", "Water held below the spill elevation"),
    _number("area_m2", "m2", "Area when full", "Area of the full water"),
    _number("spill_elev_m", "m", "Spill elevation", "Level at which it runs over"),
    _number("pit_elev_m", "m", "Lowest point", "Elevation of its lowest point"),
    _CONTRIBUTING,
    _BEYOND,
    _number(
        "spill_rain_mm",
        "mm",
        "Rain that fills it",
        "Rain on dry ground after which it runs over, this storm's cover",
    ),
    _number(
        "inflow_m3",
        "m3",
        "Inflow in the storm",
        "Runoff that reaches it, overflow from above included; of a part: runoff of its own ground",
    ),
    _number("ponded_m3", "m3", "Held in the storm", "Water left standing by this storm"),
    _number("overflow_m3", "m3", "Overflow in the storm", "Water that runs over out of an outermost low spot"),
    _number("storm_depth_m", "m", "Depth in the storm", "Depth at its lowest point after this storm"),
    _text("spills_to", "Runs over to", "Low spot that its overflow comes to next, or out of the window"),
    _text("spill_way", "On the way", "Lots and structures that the overflow crosses or touches before that"),
    _flag(
        "is_enclosed",
        "Enclosed by walls",
        "Its only way over is across a structure: a drain may exist, unseen",
    ),
    _EDGE,
)

ZONE_COLUMNS: tuple[Column, ...] = (
    _text("zone_id", "Zone", "Id of the candidate zone"),
    _LOT_ID,
    _text("status", "Status", "candidate, or soil not assessed where the group is unknown"),
    _number("area_m2", "m2", "Area", "Area that passes every rule"),
    _number("width_m", "m", "Width", "Widest circle that fits"),
    _number("slope_pct", "pct", "Mean slope", "Mean ground slope"),
    _text("hsg", "Soil group", "Hydrologic soil group"),
    _text("tests_owed", "Owed on site", "What must be measured before it is believed"),
)

FLOW_PATH_COLUMNS: tuple[Column, ...] = (
    _text("flow_path_id", "Flow path", "Id of the reach"),
    _CONTRIBUTING,
    _BEYOND,
    _number("runoff_m3", "m3", "Runoff", "Storm runoff through its lower end, before any is held back"),
    _EDGE,
)

OVERFLOW_PATH_COLUMNS: tuple[Column, ...] = (
    _text("low_spot_id", "Low spot", "Low spot that runs over in this storm"),
    _number("overflow_m3", "m3", "Overflow", "Water that runs over where the line begins"),
    _text("spills_to", "To", "Low spot that it comes to next, or out of the window"),
)

CATCHMENT_COLUMNS: tuple[Column, ...] = (_LOT_ID, _CONTRIBUTING, _BEYOND, _EDGE)

VERDICT_COLUMNS: tuple[Column, ...] = (
    _LOT_ID,
    _text(
        "aspect",
        "Aspect",
        "problem = a failure is a flag; remedy = a failure means no place for it was found",
    ),
    _text("subject_kind", "Subject", "Lot, structure or driveway"),
    _text("subject_id", "Id", "Id of the subject"),
    _text("check", "Check", "What is asked, in words"),
    _text("statistic", "Statistic", "The number that is compared"),
    _number("value", "", "Value", "Its value, in `unit`"),
    _text("operator", "Operator", "How it is compared"),
    _number("threshold", "", "Threshold", "With what, in `unit`"),
    _text("unit", "Unit", "Unit of value and threshold"),
    _text("outcome", "Outcome", "passed, failed or not assessed"),
    _number(
        "points",
        "",
        "Points",
        "Of a failed check for a problem: 1 + distance from the threshold over the threshold, at most 5; else 0",
    ),
    _flag("is_indicative", "Indicative", "The data can hint at it, not prove it: a failure has 1 point"),
    _text("source", "Source", "Where the threshold comes from"),
    _text("note", "Note", "What the reader must know beside it"),
)

NOTE_COLUMNS: tuple[Column, ...] = (
    _text("kind", "Kind", "assumed, converted, repaired, missing or caution"),
    _text("subject", "About", "Which input or stage"),
    _text("text", "Note", "What was done or is not known"),
)

SURFACE_CHANGE_COLUMNS: tuple[Column, ...] = (
    _text("change_id", "Change", "Id of the change to the routed surface"),
    _text("kind", "Kind", "Kerb, wall, berm, culvert, swale, ... or breach"),
    _text("source_id", "From", "Id of the barrier or drain; empty for a breach"),
    _number("raised_max_m", "m", "Raised by at most", "Largest rise above the ground"),
    _number("cut_max_m", "m", "Cut by at most", "Largest cut below the ground"),
    _number("area_m2", "m2", "Area changed", "Area of the cells that were changed"),
    _number("volume_m3", "m3", "Volume changed", "Ground added or taken away, on paper only"),
)

TABLES: dict[str, tuple[Column, ...]] = {
    "summary": SUMMARY_COLUMNS,
    "structures": STRUCTURE_COLUMNS,
    "structure_sides": SIDE_COLUMNS,
    "wall_arrivals": ARRIVAL_COLUMNS,
    "doors": DOOR_COLUMNS,
    "driveways": DRIVEWAY_COLUMNS,
    "low_spots": LOW_SPOT_COLUMNS,
    "infiltration_zones": ZONE_COLUMNS,
    "flow_paths": FLOW_PATH_COLUMNS,
    "overflow_paths": OVERFLOW_PATH_COLUMNS,
    "surface_changes": SURFACE_CHANGE_COLUMNS,
    "contributing_areas": CATCHMENT_COLUMNS,
    "verdicts": VERDICT_COLUMNS,
    "notes": NOTE_COLUMNS,
}
"""Columns by the name of the table or layer that has them."""


_DTYPES = {"text": "object", "number": "float64", "count": "int64", "flag": "bool"}


def names(columns: tuple[Column, ...]) -> list[str]:
    """Names of columns, in their order."""
    return [column.name for column in columns]


def declared(data: Any, columns: tuple[Column, ...], *, geometry: Sequence[Any], crs: str) -> gpd.GeoDataFrame:
    """Make a table with exactly the declared columns, in their order and kinds, however few its rows are.

    Parameters
    ----------
    data
        What a DataFrame is made of: a list of rows, or columns by name; more than is declared is left out.
    columns
        The table's columns.
    geometry, crs
        One shape a row, and where they lie.

    Returns
    -------
    A GeoDataFrame; text is kept as objects, so that an empty table has the types of a full one.
    """
    import geopandas as gpd
    import pandas as pd

    frame = pd.DataFrame(data, columns=names(columns)).astype({c.name: _DTYPES[c.kind] for c in columns})
    return gpd.GeoDataFrame(frame, geometry=list(geometry), crs=crs)
