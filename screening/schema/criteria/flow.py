"""How water spreads, which flow paths are shown, and what comes from beyond the window."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.criteria.declaring import COMMON_PRACTICE, check_thresholds, threshold

DISPERSIVE_METHODS = ("freeman", "qin", "d-infinity")


@dataclass(frozen=True, kw_only=True)
class FlowCriteria:
    """How water spreads, which flow paths are shown, and what comes from beyond the window."""

    dispersive_method: str = threshold(
        "freeman",
        "",
        "how flow spreads over lower neighbours: freeman (one exponent of slope), qin (an exponent that rises from "
        "1.1 on level ground to 10 at 45 degrees, so that steep ground spreads less) or d-infinity (between the two "
        "neighbours that the steepest facet points between)",
        "Freeman 1991, doi 10.1016/0098-3004(91)90048-I; Qin et al. 2007, doi 10.1080/13658810601073240, constants "
        "from memory; Tarboton 1997, doi 10.1029/96WR03137",
        words=DISPERSIVE_METHODS,
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

    def __post_init__(self) -> None:
        check_thresholds(self)
