"""Thresholds as data: each with its unit, its meaning, its range and where it comes from."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass, field
from typing import Any

from screening.errors import CriteriaError

COMMON_PRACTICE = "common practice, no published source"
_PLAN_2010 = "single-family residential dry well standard plan of a soil conservation district, July 2010"
_MINNESOTA = "Minnesota Stormwater Manual"
_GRADING = "International Residential Code R401.3, as quoted by others; local amendments govern"
_LAWN_CONDITIONS = ("poor", "fair", "good")
DISPERSIVE_METHODS = ("freeman", "qin", "d-infinity")
SOIL_GROUPS = ("A", "B", "C", "D")


def _threshold(
    default: Any, unit: str, meaning: str, source: str, *, low: float | None = None, high: float | None = None
) -> Any:
    meta = {"unit": unit, "meaning": meaning, "source": source, "low": low, "high": high}
    return field(default=default, metadata=meta)


@dataclass(frozen=True, kw_only=True)
class Criteria:
    """Every threshold of a screening.

    Fields carry `unit`, `meaning`, `source`, `low` and `high` in their metadata; `describe` lists them.

    Raises
    ------
    CriteriaError
        A value is of the wrong kind or outside its range.
    """

    profile: str = _threshold("neutral", "", "name of this set of thresholds", "the project")

    window_margin_m: float = _threshold(
        60.0,
        "m",
        "ground taken around the lots before the window first grows",
        COMMON_PRACTICE,
        low=5,
        high=5000,
    )
    window_look_m: float = _threshold(
        500.0,
        "m",
        "how far a window that closes looks beyond, to see whether ground there changes what reaches the lots",
        COMMON_PRACTICE,
        low=5,
        high=50000,
    )
    window_limit_m: float = _threshold(
        1500.0,
        "m",
        "farthest the window may grow from the lots to close their catchments",
        COMMON_PRACTICE,
        low=5,
        high=50000,
    )
    context_window_m: float = _threshold(
        500.0,
        "m",
        "farthest the window grows to close catchments where a coarser elevation supplies what lies beyond",
        COMMON_PRACTICE,
        low=5,
        high=50000,
    )
    context_limit_m: float = _threshold(
        10000.0,
        "m",
        "how far beyond the window a coarser elevation is read",
        COMMON_PRACTICE,
        low=100,
        high=200000,
    )
    context_snap_cells: float = _threshold(
        2.0,
        "",
        "how far from where coarse flow comes in the window's edge is searched for the cell that takes it, in cells of "
        "the coarser elevation",
        COMMON_PRACTICE,
        low=1,
        high=10,
    )
    context_return_max_frac: float = _threshold(
        0.05,
        "frac",
        "water that leaves the window and comes back is not counted again: where it would be more than this share of "
        "a contributing area, that area is called a lower bound",
        COMMON_PRACTICE,
        low=0,
        high=1,
    )
    context_curve_number: float = _threshold(
        80.0,
        "",
        "curve number of all ground beyond the window: open space in good condition on soil group D, the group that "
        "sheds most",
        "TR-55 (1986) Table 2-2a",
        low=30,
        high=100,
    )
    void_fill_max_m2: float = _threshold(
        400.0,
        "m2",
        "largest gap in the elevation that is interpolated; larger gaps stay unknown",
        COMMON_PRACTICE,
        low=0,
        high=1e6,
    )
    nodata_drains: bool = _threshold(
        True,
        "",
        "water that reaches a gap in the elevation leaves there; if false, gaps stand as walls",
        "the project",
    )
    wall_height_m: float = _threshold(
        3.0,
        "m",
        "height of structures above the highest ground they stand on, as walls to flow",
        COMMON_PRACTICE,
        low=0.1,
        high=100,
    )
    drain_snap_m: float = _threshold(
        2.0,
        "m",
        "how far the end of a drain is moved to the lowest ground near it",
        COMMON_PRACTICE,
        low=0,
        high=50,
    )
    downspout_reach_m: float = _threshold(
        3.0, "m", "farthest that a downspout may stand from its structure", COMMON_PRACTICE, low=0.5, high=50
    )
    breach_length_max_m: float = _threshold(
        0.0,
        "m",
        "longest channel that least-cost breaching may cut where a drain may be unmapped; 0 = none is cut",
        "Lindsay & Dhun 2015, doi 10.1080/13658816.2014.975715; the length is " + COMMON_PRACTICE,
        low=0,
        high=1000,
    )
    breach_cost_max_m: float = _threshold(
        10.0,
        "m",
        "largest cost of such a channel: depths cut along it, added up over its cells",
        COMMON_PRACTICE,
        low=0,
        high=1e6,
    )
    dispersive_method: str = _threshold(
        "freeman",
        "",
        "how flow spreads over lower neighbours: freeman (one exponent of slope), qin (an exponent that rises from "
        "1.1 on level ground to 10 at 45 degrees, so that steep ground spreads less) or d-infinity (between the two "
        "neighbours that the steepest facet points between)",
        "Freeman 1991, doi 10.1016/0098-3004(91)90048-I; Qin et al. 2007, doi 10.1080/13658810601073240, constants "
        "from memory; Tarboton 1997, doi 10.1029/96WR03137",
    )
    multiflow_exponent: float = _threshold(
        1.1,
        "",
        "exponent of slope in the dispersive flow shares of freeman",
        "Freeman 1991, Computers & Geosciences 17(3)",
        low=0.1,
        high=20,
    )
    flow_path_min_area_m2: float = _threshold(
        400.0, "m2", "contributing area from which a flow path is drawn", COMMON_PRACTICE, low=1, high=1e9
    )
    low_spot_min_depth_m: float = _threshold(
        0.10,
        "m",
        "shallowest low spot that is reported; 0.10 m is the vertical RMSE of quality level 2 lidar",
        "USGS Lidar Base Specification, from memory",
        low=0,
        high=10,
    )
    low_spot_min_area_m2: float = _threshold(
        6.0, "m2", "smallest low spot that is reported", COMMON_PRACTICE, low=0, high=1e6
    )
    structure_area_flag_m2: float = _threshold(
        500.0,
        "m2",
        "ground draining to a structure's walls from which it is flagged",
        COMMON_PRACTICE,
        low=1,
        high=1e9,
    )
    fall_away_distance_m: float = _threshold(
        3.048,
        "m",
        "distance from a wall over which the fall of the ground is measured (10 ft)",
        _GRADING,
        low=0.1,
        high=100,
    )
    fall_away_min_pct: float = _threshold(
        5.0, "pct", "fall away from a wall over open ground (6 in within the first 10 ft)", _GRADING, low=0.1, high=100
    )
    fall_away_paved_min_pct: float = _threshold(
        2.0, "pct", "fall away from a wall over pavement", _GRADING + ", exception", low=0.1, high=100
    )
    elevation_rmse_m: float = _threshold(
        0.10,
        "m",
        "vertical root mean square error of the elevation; the default is that of quality level 2 lidar",
        "USGS Lidar Base Specification, from memory",
        low=0,
        high=100,
    )
    door_reach_m: float = _threshold(
        3.0, "m", "farthest that a door may stand from its structure", COMMON_PRACTICE, low=0.5, high=50
    )
    door_front_m: float = _threshold(
        2.0, "m", "how far from a door water at the wall counts as arriving at it", COMMON_PRACTICE, low=0.1, high=50
    )
    driveway_to_structure_flag_frac: float = _threshold(
        0.5,
        "frac",
        "share of a driveway's water that meets a wall on its lot from which it is flagged",
        COMMON_PRACTICE,
        low=0,
        high=1,
    )
    off_lot_area_flag_m2: float = _threshold(
        1000.0,
        "m2",
        "ground outside the lot draining onto it from which the lot is flagged",
        COMMON_PRACTICE,
        low=1,
        high=1e9,
    )
    lawn_condition: str = _threshold(
        "good",
        "",
        "condition of ground that no layer covers: poor, fair or good grass cover",
        "open space rows of TR-55 (1986) Table 2-2a",
    )
    initial_abstraction_ratio: float = _threshold(
        0.2,
        "",
        "initial abstraction as a share of potential retention",
        "TR-55 (1986) eq. 2-2",
        low=0.01,
        high=0.5,
    )
    assumed_rain_mm: float = _threshold(
        50.8,
        "mm",
        "rain taken where neither a storm nor a depth is given (2 in)",
        COMMON_PRACTICE,
        low=1,
        high=2000,
    )
    infiltration_groups: tuple[str, ...] = _threshold(
        ("A", "B"),
        "",
        "hydrologic soil groups that are candidates; undrained dual groups count as D",
        "group D excluded: " + _PLAN_2010 + "; groups after NEH 630 chapter 7",
    )
    infiltration_slope_max_pct: float = _threshold(
        20.0, "pct", "steepest ground that is a candidate", _PLAN_2010, low=0, high=200
    )
    setback_structure_m: float = _threshold(
        3.05, "m", "clear distance to structures (10 ft)", _MINNESOTA + "; " + _PLAN_2010, low=0, high=1000
    )
    setback_lot_line_m: float = _threshold(
        3.05, "m", "clear distance to lot lines (10 ft)", _MINNESOTA, low=0, high=1000
    )
    setback_well_m: float = _threshold(
        30.5, "m", "clear distance to wells (100 ft, sensitive wells)", _MINNESOTA, low=0, high=1000
    )
    setback_septic_m: float = _threshold(
        15.2, "m", "clear distance to septic fields (50 ft)", _MINNESOTA, low=0, high=1000
    )
    infiltration_min_area_m2: float = _threshold(
        12.0, "m2", "smallest candidate zone that is kept", COMMON_PRACTICE, low=0, high=1e6
    )
    infiltration_min_width_m: float = _threshold(
        2.0, "m", "narrowest candidate zone that is kept", COMMON_PRACTICE, low=0, high=1000
    )

    def __post_init__(self) -> None:
        for spec in dataclasses.fields(self):
            _check_value(spec.name, getattr(self, spec.name), spec.default, spec.metadata)
        _check_word("lawn_condition", self.lawn_condition, _LAWN_CONDITIONS, "a condition of grass cover")
        _check_word("dispersive_method", self.dispersive_method, DISPERSIVE_METHODS, "a way in which flow spreads")
        unknown = set(self.infiltration_groups) - set(SOIL_GROUPS)
        if unknown:
            raise CriteriaError(
                "infiltration_groups names a group that does not exist",
                got=", ".join(sorted(unknown)),
                expected="any of A, B, C, D",
                mend="list only these letters",
            )


def _check_value(name: str, value: Any, default: Any, meta: Any) -> None:
    kind = type(default)
    is_number = kind is float and isinstance(value, int | float) and not isinstance(value, bool)
    if not (is_number or isinstance(value, kind)):
        raise CriteriaError(
            f"{name} is of the wrong kind",
            got=f"{value!r} ({type(value).__name__})",
            expected=f"{kind.__name__}, such as {default!r}",
            mend="correct it in the criteria file",
        )
    low, high = meta["low"], meta["high"]
    if is_number and not (low if low is not None else -1e300) <= value <= (high if high is not None else 1e300):
        raise CriteriaError(
            f"{name} is outside its range",
            got=f"{value} {meta['unit']}".strip(),
            expected=f"{low} to {high} {meta['unit']}".strip(),
            mend="correct it in the criteria file",
        )


def _check_word(name: str, value: str, words: tuple[str, ...], kind: str) -> None:
    if value not in words:
        raise CriteriaError(
            f"{name} is not {kind}", got=repr(value), expected=", ".join(words), mend="use one of these words"
        )


def describe(criteria: Criteria) -> list[dict[str, Any]]:
    """List the thresholds: name, value, unit, meaning and source, in their order.

    Examples
    --------
    >>> describe(Criteria())[3]["name"]
    'void_fill_max_m2'
    """
    return [
        {"name": spec.name, "value": getattr(criteria, spec.name)}
        | {key: spec.metadata[key] for key in ("unit", "meaning", "source")}
        for spec in dataclasses.fields(criteria)
    ]


def from_mapping(values: dict[str, Any]) -> Criteria:
    """Make criteria from names and values; what is not named keeps its default.

    Raises
    ------
    CriteriaError
        A name is not a threshold, or a value cannot be used.
    """
    names = [spec.name for spec in dataclasses.fields(Criteria)]
    unknown = [name for name in values if name not in names]
    if unknown:
        raise CriteriaError(
            "The criteria name a threshold that does not exist",
            got=", ".join(unknown),
            expected=", ".join(names),
            mend="correct the spelling or remove the line",
        )
    return Criteria(**{name: _as_declared(value) for name, value in values.items()})


def _as_declared(value: Any) -> Any:
    """Whole numbers and lists, as a file may hold them, in the kinds that the fields have."""
    if isinstance(value, list):
        return tuple(value)
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value
