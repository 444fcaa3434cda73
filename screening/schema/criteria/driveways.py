"""How driveways are measured, and what is flagged at them."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.criteria.declaring import COMMON_PRACTICE, check_thresholds, threshold


@dataclass(frozen=True, kw_only=True)
class DrivewayCriteria:
    """How driveways are measured, and what is flagged at them."""

    driveway_to_structure_flag_frac: float = threshold(
        0.5,
        "frac",
        "share of a driveway's water that meets a wall on its lot from which it is flagged",
        COMMON_PRACTICE,
        low=0,
        high=1,
    )
    driveway_width_min_cells: float = threshold(
        3.0,
        "",
        "width of a driveway, in cells, below which its cross fall and crown are not told apart: a line across takes "
        "three points",
        "the project",
        low=1,
        high=100,
    )
    driveway_small_cells: float = threshold(
        12.0,
        "",
        "area of a driveway, in cells, below which its numbers are flagged as of a small polygon",
        COMMON_PRACTICE,
        low=1,
        high=10000,
    )
    driveway_crown_min_m: float = threshold(
        0.02,
        "m",
        "height of the middle over both edges from which a driveway counts as crowned, or as a trough "
        "where it is as far below",
        COMMON_PRACTICE,
        low=0,
        high=1,
    )
    driveway_edge_piece_m: float = threshold(
        5.0, "m", "longest piece that the edge of a driveway is cut into", COMMON_PRACTICE, low=0.5, high=1000
    )
    driveway_street_reach_m: float = threshold(
        3.0,
        "m",
        "ground outside the lot that lies this near to a street counts as the street's verge",
        COMMON_PRACTICE,
        low=0,
        high=100,
    )
    driveway_low_point_min_m: float = threshold(
        0.02, "m", "depth of water on a driveway from which its low point is shown", COMMON_PRACTICE, low=0, high=10
    )
    driveway_arrow_spacing_m: float = threshold(
        2.0, "m", "distance between arrows of flow on a driveway", COMMON_PRACTICE, low=0.1, high=100
    )

    def __post_init__(self) -> None:
        check_thresholds(self)
