"""Thresholds of what is found on the ground: windows, surface, flow, low spots, walls, runoff."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.criteria.declaring import COMMON_PRACTICE, threshold

_GRADING = "International Residential Code R401.3, as quoted by others; local amendments govern"


@dataclass(frozen=True, kw_only=True)
class GroundCriteria:
    """The part of `Criteria` that findings are made by."""

    profile: str = threshold(
        "neutral", "", "name of this set of thresholds; a published profile's name brings its values", "the project"
    )

    window_margin_m: float = threshold(
        60.0,
        "m",
        "ground taken around the lots before the window first grows",
        COMMON_PRACTICE,
        low=5,
        high=5000,
    )
    window_look_m: float = threshold(
        500.0,
        "m",
        "how far a window that closes looks beyond, to see whether ground there changes what reaches the lots",
        COMMON_PRACTICE,
        low=5,
        high=50000,
    )
    window_limit_m: float = threshold(
        1500.0,
        "m",
        "farthest the window may grow from the lots to close their catchments",
        COMMON_PRACTICE,
        low=5,
        high=50000,
    )
    context_window_m: float = threshold(
        500.0,
        "m",
        "farthest the window grows to close catchments where a coarser elevation supplies what lies beyond",
        COMMON_PRACTICE,
        low=5,
        high=50000,
    )
    context_limit_m: float = threshold(
        10000.0,
        "m",
        "how far beyond the window a coarser elevation is read",
        COMMON_PRACTICE,
        low=100,
        high=200000,
    )
    context_snap_cells: float = threshold(
        2.0,
        "",
        "how far from where coarse flow comes in the window's edge is searched for the cell that takes it, in cells of "
        "the coarser elevation",
        COMMON_PRACTICE,
        low=1,
        high=10,
    )
    context_return_max_frac: float = threshold(
        0.05,
        "frac",
        "water that leaves the window and comes back is not counted again: where it would be more than this share of "
        "a contributing area, that area is called a lower bound",
        COMMON_PRACTICE,
        low=0,
        high=1,
    )
    context_curve_number: float = threshold(
        80.0,
        "",
        "curve number of all ground beyond the window: open space in good condition on soil group D, the group that "
        "sheds most",
        "TR-55 (1986) Table 2-2a",
        low=30,
        high=100,
    )
    void_fill_max_m2: float = threshold(
        400.0,
        "m2",
        "largest gap in the elevation that is interpolated; larger gaps stay unknown",
        COMMON_PRACTICE,
        low=0,
        high=1e6,
    )
    nodata_drains: bool = threshold(
        True,
        "",
        "water that reaches a gap in the elevation leaves there; if false, gaps stand as walls",
        "the project",
    )
    wall_height_m: float = threshold(
        3.0,
        "m",
        "height of structures above the highest ground they stand on, as walls to flow",
        COMMON_PRACTICE,
        low=0.1,
        high=100,
    )
    kerb_height_m: float = threshold(
        0.15, "m", "height of kerbs whose height is not given", COMMON_PRACTICE, low=0, high=2
    )
    drain_snap_m: float = threshold(
        2.0,
        "m",
        "how far the end of a drain is moved to the lowest ground near it, at most half its length",
        COMMON_PRACTICE,
        low=0,
        high=50,
    )
    downspout_reach_m: float = threshold(
        3.0, "m", "farthest that a downspout may stand from its structure", COMMON_PRACTICE, low=0.5, high=50
    )
    breach_length_max_m: float = threshold(
        0.0,
        "m",
        "longest channel that least-cost breaching may cut where a drain may be unmapped; 0 = none is cut",
        "Lindsay & Dhun 2015, doi 10.1080/13658816.2014.975715; the length is " + COMMON_PRACTICE,
        low=0,
        high=1000,
    )
    breach_cost_max_m: float = threshold(
        10.0,
        "m",
        "largest cost of such a channel: depths cut along it, added up over its cells",
        COMMON_PRACTICE,
        low=0,
        high=1e6,
    )
    dispersive_method: str = threshold(
        "freeman",
        "",
        "how flow spreads over lower neighbours: freeman (one exponent of slope), qin (an exponent that rises from "
        "1.1 on level ground to 10 at 45 degrees, so that steep ground spreads less) or d-infinity (between the two "
        "neighbours that the steepest facet points between)",
        "Freeman 1991, doi 10.1016/0098-3004(91)90048-I; Qin et al. 2007, doi 10.1080/13658810601073240, constants "
        "from memory; Tarboton 1997, doi 10.1029/96WR03137",
    )
    multiflow_exponent: float = threshold(
        1.1,
        "",
        "exponent of slope in the dispersive flow shares of freeman",
        "Freeman 1991, Computers & Geosciences 17(3)",
        low=0.1,
        high=20,
    )
    flow_path_min_area_m2: float = threshold(
        400.0, "m2", "contributing area from which a flow path is drawn", COMMON_PRACTICE, low=1, high=1e9
    )
    low_spot_min_depth_m: float = threshold(
        0.10,
        "m",
        "shallowest low spot that is reported; 0.10 m is the vertical RMSE of quality level 2 lidar",
        "USGS Lidar Base Specification, from memory",
        low=0,
        high=10,
    )
    low_spot_min_area_m2: float = threshold(
        6.0, "m2", "smallest low spot that is reported", COMMON_PRACTICE, low=0, high=1e6
    )
    structure_area_flag_m2: float = threshold(
        500.0,
        "m2",
        "ground draining to a structure's walls from which it is flagged",
        COMMON_PRACTICE,
        low=1,
        high=1e9,
    )
    fall_away_distance_m: float = threshold(
        3.048,
        "m",
        "distance from a wall over which the fall of the ground is measured (10 ft)",
        _GRADING,
        low=0.1,
        high=100,
    )
    fall_away_min_pct: float = threshold(
        5.0, "pct", "fall away from a wall over open ground (6 in within the first 10 ft)", _GRADING, low=0.1, high=100
    )
    fall_away_paved_min_pct: float = threshold(
        2.0, "pct", "fall away from a wall over pavement", _GRADING + ", exception", low=0.1, high=100
    )
    door_reach_m: float = threshold(
        3.0, "m", "farthest that a door may stand from its structure", COMMON_PRACTICE, low=0.5, high=50
    )
    door_front_m: float = threshold(
        2.0, "m", "how far from a door water at the wall counts as arriving at it", COMMON_PRACTICE, low=0.1, high=50
    )
    driveway_to_structure_flag_frac: float = threshold(
        0.5,
        "frac",
        "share of a driveway's water that meets a wall on its lot from which it is flagged",
        COMMON_PRACTICE,
        low=0,
        high=1,
    )
    off_lot_area_flag_m2: float = threshold(
        1000.0,
        "m2",
        "ground outside the lot draining onto it from which the lot is flagged",
        COMMON_PRACTICE,
        low=1,
        high=1e9,
    )
    lawn_condition: str = threshold(
        "good",
        "",
        "condition of ground that no layer covers: poor, fair or good grass cover",
        "open space rows of TR-55 (1986) Table 2-2a",
    )
    initial_abstraction_ratio: float = threshold(
        0.2,
        "",
        "initial abstraction as a share of potential retention",
        "TR-55 (1986) eq. 2-2",
        low=0.01,
        high=0.5,
    )
    assumed_rain_mm: float = threshold(
        50.8,
        "mm",
        "rain taken where neither a storm nor a depth is given (2 in)",
        COMMON_PRACTICE,
        low=1,
        high=2000,
    )
    sheet_flow_length_m: float = threshold(
        30.48,
        "m",
        "longest sheet flow at the head of a path (100 ft; TR-55 of 1986 allowed 300 ft, 91.44 m)",
        "NEH 630 chapter 15 (2010), from memory",
        low=0,
        high=100,
    )
    path_slope_length_m: float = threshold(
        10.0, "m", "stretch of a flow path over which its slope is taken", COMMON_PRACTICE, low=0, high=1000
    )
    path_slope_min_pct: float = threshold(
        0.1, "pct", "least slope of a flow path, on level ground and through ponds", COMMON_PRACTICE, low=1e-3, high=10
    )
    channel_min_area_m2: float = threshold(
        40000.0,
        "m2",
        "contributing area from which water runs in a channel (10 acres)",
        COMMON_PRACTICE,
        low=1,
        high=1e9,
    )
    channel_n: float = threshold(
        0.05, "", "Manning's roughness of such a channel", "TR-55 (1986) example 3-1, from memory", low=0.01, high=0.3
    )
    channel_hydraulic_radius_m: float = threshold(
        0.3, "m", "hydraulic radius of such a channel (about 1 ft)", COMMON_PRACTICE, low=0.01, high=5
    )
    time_of_concentration_min_h: float = threshold(
        5.0 / 60.0, "h", "least time of concentration (5 minutes)", "HEC-22 (3rd ed., 2009) page 4-68", low=1e-3, high=1
    )
    two_year_24h_rain_mm: float = threshold(
        76.2,
        "mm",
        "2-year, 24-hour rain for sheet flow where no rainfall table gives it (3 in)",
        COMMON_PRACTICE,
        low=5,
        high=500,
    )
    rational_area_max_m2: float = threshold(
        809371.0,
        "m2",
        "largest area of the rational method (200 acres)",
        "HEC-22 (3rd ed., 2009) page 3-5",
        low=1,
        high=1e8,
    )
    rainfall_distribution: str = threshold(
        "II",
        "",
        "distribution of a 24-hour rain (I, IA, II or III) for peaks and storage where no rain intensity is known",
        "TR-55 (1986) appendix B; II holds for most of the United States inland of its coasts, from memory",
    )
