"""Columns of structures, their sides, what meets them, and their doors."""

from __future__ import annotations

from screening.columns.kinds import Column, count, flag, number, text
from screening.columns.shared import (
    BEYOND,
    CONFIDENCE,
    CONFIDENCE_FRAC,
    EDGE,
    FALL_AWAY,
    FALL_ERROR,
    FALL_SOUGHT,
    LOT_ID,
)

STRUCTURE_COLUMNS: tuple[Column, ...] = (
    text("structure_id", "Structure", "Id of the structure"),
    LOT_ID,
    text("kind", "Kind", "House, garage, shed or structure"),
    text("exposure", "Exposure", "ponding, run-on, low or not assessed (on no chosen lot: empty lot)"),
    text("exposure_why", "Why", "The reason in words"),
    Column("exposure_rank", "count", "", "Order", "1 = look at this structure first: largest exposure score"),
    number(
        "exposure_score",
        "",
        "Exposure score",
        "Sum of the points of its rows in verdicts; the lot's visit score adds up the same points",
    ),
    number("contributing_area_m2", "m2", "Contributing area", "Ground whose water meets the walls, roof not counted"),
    BEYOND,
    text("arrival_side", "Most arrives at", "Side at which most ground arrives"),
    number("arrival_side_area_m2", "m2", "Contributing area there", "Ground whose water first meets that side"),
    number(
        "runoff_arriving_m3",
        "m3",
        "Runoff at the walls",
        "Storm runoff that reaches the walls, roof not counted",
    ),
    count("n_wall_arrivals", "Flow paths at the walls", "Places where a flow path meets a wall"),
    number("lowest_adjacent_grade_m", "m", "Lowest adjacent grade", "Lowest ground touching the walls"),
    text("low_spot_id", "Low spot at the wall", "Low spot whose full water touches the wall"),
    text("pond_side", "Deepest at", "Side at which the full water is deepest"),
    number(
        "pond_depth_full_m",
        "m",
        "Depth at the wall, full",
        "Deepest water at the wall when that low spot is full",
    ),
    number("pond_depth_storm_m", "m", "Depth at the wall, storm", "Deepest water at the wall left by this storm"),
    number(
        "freeboard_m",
        "m",
        "Freeboard",
        "Lowest adjacent grade above the full water; negative = below its level, though it may be at a dry wall",
    ),
    text("fall_away_side", "Least fall at", "Side whose fall away is farthest below what is sought"),
    FALL_AWAY,
    FALL_SOUGHT,
    FALL_ERROR,
    flag("has_court", "Walled court", "A court between walls has no way out over ground"),
    flag("is_small", "Small footprint", "Narrower than the cells can show"),
    number("ponding_frac", "frac", "Ponding under elevation error", "Share of the realisations that find ponding"),
    number("run_on_frac", "frac", "Run-on under elevation error", "Share of the realisations that find run-on"),
    CONFIDENCE_FRAC,
    CONFIDENCE,
    EDGE,
)

SIDE_COLUMNS: tuple[Column, ...] = (
    text("side_id", "Wall", "Id of the structure and name of the side"),
    text("structure_id", "Structure", "Id of the structure"),
    LOT_ID,
    text("side", "Side", "Main direction that this part of the wall faces; all sides = too small to tell"),
    text("exposure", "Exposure", "ponding, run-on, low or not assessed, of this side alone"),
    number("length_m", "m", "Length", "Length of the wall line, walls shared with another structure left out"),
    number("contributing_area_m2", "m2", "Contributing area", "Ground whose water meets the walls first at this side"),
    number("runoff_arriving_m3", "m3", "Runoff", "Storm runoff that meets the walls first at this side"),
    count("n_wall_arrivals", "Flow paths", "Places where a flow path meets this side"),
    number("lowest_grade_m", "m", "Lowest grade", "Lowest ground touching this side"),
    number("pond_depth_full_m", "m", "Depth at the wall, full", "Deepest water at this side when low spots are full"),
    number("pond_depth_storm_m", "m", "Depth at the wall, storm", "Deepest water at this side left by this storm"),
    FALL_AWAY,
    FALL_SOUGHT,
    FALL_ERROR,
    number("fall_distance_m", "m", "Measured over", "Distance between the two heights; shorter at a lot line or wall"),
    number("paved_frac", "frac", "Paved", "Share of the wall with pavement in front"),
    EDGE,
)

ARRIVAL_COLUMNS: tuple[Column, ...] = (
    text("arrival_id", "Arrival", "Id of the place where a flow path meets a wall"),
    text("structure_id", "Structure", "Id of the structure"),
    LOT_ID,
    text("side", "Side", "Side of the structure that it meets"),
    number("contributing_area_m2", "m2", "Contributing area", "Ground that drains along the path to this place"),
    number("runoff_m3", "m3", "Runoff", "Storm runoff along the path, before any is held back"),
    number("from_bearing_deg", "deg", "Comes from", "Bearing from the wall up the path: 0 = north, 90 = east"),
    EDGE,
)

DOOR_COLUMNS: tuple[Column, ...] = (
    text("door_id", "Door", "Id of the door or other opening"),
    text("kind", "Kind", "Door, garage, window well, vent, ..."),
    text("structure_id", "Structure", "Id of its structure; empty = none within reach"),
    LOT_ID,
    text("side", "Side", "Side of the structure that it is in"),
    number("ground_elev_m", "m", "Ground", "Ground beside the wall nearest to it"),
    number("pond_depth_full_m", "m", "Depth at the wall, full", "Water on that ground when low spots are full"),
    number("pond_depth_storm_m", "m", "Depth at the wall, storm", "Water on that ground left by this storm"),
    number("sill_elev_m", "m", "Sill", "Elevation of the sill as given"),
    number("sill_above_ground_m", "m", "Sill above ground", "Sill above that ground"),
    number("freeboard_full_m", "m", "Freeboard, full", "Sill above the full water there; negative = below it"),
    number("freeboard_storm_m", "m", "Freeboard, storm", "Sill above this storm's water there; negative = below it"),
    number(
        "contributing_area_m2",
        "m2",
        "Contributing area",
        "Ground that drains through the cells beside the wall near it, own roof not counted",
    ),
    number("runoff_arriving_m3", "m3", "Runoff", "Storm runoff of that ground"),
    EDGE,
)
