"""Hydrologic soil group from saturated conductivity and depths, where a survey gives those and no group."""

from __future__ import annotations

from screening.errors import InputError
from screening.units import MM_H_PER_UM_S

# NEH 630 chapter 7, Table 7-1: lower limits of Ksat [um/s] of groups A, B and C; what is not above the last is D.
_SHALLOW_LIMITS = (40.0, 10.0, 1.0)
_DEEP_LIMITS = (10.0, 4.0, 0.4)
_SHALLOW_LAYER_CM, _DEEP_LAYER_CM = 50.0, 100.0
_HIGH_WATER_CM = 60.0


def hydrologic_group(*, ksat_um_s: float, impermeable_depth_cm: float, water_table_depth_cm: float) -> str:
    """Assign a hydrologic soil group.

    Parameters
    ----------
    ksat_um_s
        Saturated conductivity of the least transmissive layer in the depth range that the table names [um/s].
    impermeable_depth_cm
        Depth to a water-impermeable layer [cm]; infinity where there is none.
    water_table_depth_cm
        Depth to the seasonal high water table [cm]; infinity where there is none.

    Returns
    -------
    A, B, C, D, or A/D, B/D, C/D where the group holds only if the ground is drained.

    Raises
    ------
    InputError
        A value is negative or not a number.

    References
    ----------
    NRCS National Engineering Handbook, part 630, chapter 7, Table 7-1.

    Examples
    --------
    >>> hydrologic_group(ksat_um_s=10.0, impermeable_depth_cm=150, water_table_depth_cm=150)
    'B'
    """
    for name, value in (
        ("saturated conductivity", ksat_um_s),
        ("depth to an impermeable layer", impermeable_depth_cm),
        ("depth to the water table", water_table_depth_cm),
    ):
        if not value >= 0:
            raise InputError(f"The {name} cannot be used", got=str(value), expected="0 or more")
    if impermeable_depth_cm < _SHALLOW_LAYER_CM:
        return "D"
    is_deep = impermeable_depth_cm > _DEEP_LAYER_CM
    is_wet = water_table_depth_cm < _HIGH_WATER_CM
    # With water between 60 and 100 cm only the upper 50 cm count, and with them the limits of shallow ground.
    uses_deep = is_deep and (is_wet or water_table_depth_cm > _DEEP_LAYER_CM)
    limits = _DEEP_LIMITS if uses_deep else _SHALLOW_LIMITS
    drained = next((group for group, limit in zip("ABC", limits, strict=True) if ksat_um_s > limit), "D")
    return f"{drained}/D" if is_wet and drained != "D" else drained


def group_by_conductivity(*, ksat_mm_h: float, restrictive_depth_m: float, water_depth_m: float) -> str:
    """Assign a hydrologic soil group from SI values: see `hydrologic_group`.

    Parameters
    ----------
    ksat_mm_h
        Saturated conductivity [mm/h].
    restrictive_depth_m, water_depth_m
        To a water-impermeable layer and to the seasonal high water table [m]; infinity where there is none.

    Examples
    --------
    >>> group_by_conductivity(ksat_mm_h=36.0, restrictive_depth_m=1.5, water_depth_m=1.5)
    'B'
    """
    # Limits belong to the lower group: noise of a conversion must not lift a value over one.
    return hydrologic_group(
        ksat_um_s=round(ksat_mm_h / MM_H_PER_UM_S, 9),
        impermeable_depth_cm=round(restrictive_depth_m * 100.0, 9),
        water_table_depth_cm=round(water_depth_m * 100.0, 9),
    )


def best_group(*, ksat_mm_h: float, restrictive_depth_m: float, water_depth_m: float) -> str:
    """Assign the best group that a soil may have by what is known of it; a value that is not known (NaN) may be any.

    Returns
    -------
    `A` where nothing is known.

    Examples
    --------
    >>> best_group(ksat_mm_h=14.4, restrictive_depth_m=float("nan"), water_depth_m=float("nan"))
    'C'
    """
    ksat, restrictive, water = (
        float("inf") if value != value else value for value in (ksat_mm_h, restrictive_depth_m, water_depth_m)
    )
    return group_by_conductivity(ksat_mm_h=ksat, restrictive_depth_m=restrictive, water_depth_m=water)
