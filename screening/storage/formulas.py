"""Beds of stone by published formulas alone, without routing a storm through them."""

from __future__ import annotations

from screening.storage.ranges import check_sizes


def quick_footprint_m2(
    volume_m3: float, *, depth_m: float, void_frac: float, design_rate_mm_h: float, filling_h: float = 2.0
) -> float:
    """Estimate the footprint of a bed that takes a volume while it fills, by formula alone.

    Returns
    -------
    volume / (voids x depth + rate x filling time) [m2].

    References
    ----------
    Virginia DEQ Stormwater Design Specification No. 8: SA = TV / (Vr d + 1/2 f tf), filling in about 2 h.
    """
    check_sizes(
        "The bed",
        may_be_zero=("design_rate_mm_h", "filling_h"),
        volume_m3=volume_m3,
        depth_m=depth_m,
        void_frac=void_frac,
        design_rate_mm_h=design_rate_mm_h,
        filling_h=filling_h,
    )
    return volume_m3 / (void_frac * depth_m + design_rate_mm_h / 1000.0 * filling_h)


def deepest_bed_m(*, design_rate_mm_h: float, drawdown_max_h: float, void_frac: float) -> float:
    """Compute the deepest bed of stone that still empties in time through its base.

    Returns
    -------
    rate x time / voids [m].

    References
    ----------
    Virginia DEQ Stormwater Design Specification No. 8: dmax = 1/2 f td / Vr (from memory).
    """
    check_sizes(
        "The bed",
        may_be_zero=("design_rate_mm_h",),
        design_rate_mm_h=design_rate_mm_h,
        drawdown_max_h=drawdown_max_h,
        void_frac=void_frac,
    )
    return design_rate_mm_h / 1000.0 * drawdown_max_h / void_frac
