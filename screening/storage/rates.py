"""Infiltration rates by soil, as published; none of them takes the place of a test on site."""

from __future__ import annotations

import math

from screening.errors import InputError
from screening.schema.codes.storage import KsatClass, SoilGroup
from screening.storage.ranges import Range, check_sizes, exactly
from screening.units import MM_H_PER_UM_S, MM_PER_IN

RAWLS_1982_MM_H: dict[str, float] = {
    texture: rate_in_h * MM_PER_IN
    for texture, rate_in_h in {
        "sand": 8.27,
        "loamy sand": 2.41,
        "sandy loam": 1.02,
        "loam": 0.52,
        "silt loam": 0.27,
        "sandy clay loam": 0.17,
        "clay loam": 0.09,
        "silty clay loam": 0.06,
        "sandy clay": 0.05,
        "silty clay": 0.04,
        "clay": 0.02,
    }.items()
}
"""Design rates by texture [mm/h]: Rawls, Brakensiek & Saxton 1982, from memory (8.27 in/h for sand and so on)."""

URBAN_MM_H: dict[SoilGroup, Range] = {
    SoilGroup.A: Range(0.50 * MM_PER_IN, 2.20 * MM_PER_IN),
    SoilGroup.B: Range(0.15 * MM_PER_IN, 0.24 * MM_PER_IN),
    SoilGroup.C: Range(0.11 * MM_PER_IN, 0.30 * MM_PER_IN),
    SoilGroup.D: exactly(0.06 * MM_PER_IN),
}
"""Saturated conductivity of urban soil by hydrologic group, compacted to loosened [mm/h]: Minnesota Stormwater Manual,
after Rawls 1998. Group D has one figure."""

URBAN_AVERAGE_MM_H: dict[SoilGroup, float] = {
    SoilGroup.A: 0.90 * MM_PER_IN,
    SoilGroup.B: 0.205 * MM_PER_IN,
    SoilGroup.C: 0.14 * MM_PER_IN,
    SoilGroup.D: 0.06 * MM_PER_IN,
}
"""The same of average urban soil."""

_KSAT_CLASSES = (
    (0.01, KsatClass.VERY_LOW),
    (0.1, KsatClass.LOW),
    (1.0, KsatClass.MODERATELY_LOW),
    (10.0, KsatClass.MODERATELY_HIGH),
    (100.0, KsatClass.HIGH),
    (math.inf, KsatClass.VERY_HIGH),
)


def urban_rate_mm_h(hsg: str) -> Range | None:
    """Give the range of rates that a hydrologic soil group may have in a built-up place; None where it is unknown.

    Parameters
    ----------
    hsg
        A, B, C, D; an undrained dual group (A/D) counts as D; `unknown`.
    """
    try:
        group = SoilGroup(hsg)
    except ValueError:
        raise InputError(
            "The hydrologic soil group is unknown", got=hsg, expected="A, B, C, D, a dual or unknown"
        ) from None
    return None if group is SoilGroup.UNKNOWN else URBAN_MM_H[group.undrained]


def ksat_class(ksat_mm_h: float) -> KsatClass:
    """Name the class of a saturated conductivity [mm/h].

    References
    ----------
    USDA Soil Survey Manual, classes of saturated hydraulic conductivity in um/s, from memory.

    Examples
    --------
    >>> ksat_class(36.0).value
    'high'
    """
    check_sizes("The conductivity", may_be_zero=("ksat_mm_h",), ksat_mm_h=ksat_mm_h)
    # Limits belong to the class above them; noise of the conversion does not.
    rate_um_s = round(ksat_mm_h / MM_H_PER_UM_S, 9)
    return next(name for limit, name in _KSAT_CLASSES if rate_um_s < limit)


def green_ampt_mm(
    hours: float, *, conductivity_mm_h: float, suction_mm: float, deficit_frac: float, rain_mm_h: float = math.inf
) -> float:
    """Compute how much steady rain, or ponded water, a soil has taken in after a time.

    Parameters
    ----------
    hours
        Since the rain began [h].
    conductivity_mm_h, suction_mm, deficit_frac
        Of the soil: hydraulic conductivity, wetting front suction, moisture deficit.
    rain_mm_h
        Steady; infinite = ponded from the start, depth of water left out.

    Returns
    -------
    Infiltrated depth [mm].

    References
    ----------
    Green & Ampt 1911; Mein & Larson 1973, doi 10.1029/WR009i002p00384.
    """
    check_sizes(
        "The soil",
        may_be_zero=("hours",),
        hours=hours,
        conductivity_mm_h=conductivity_mm_h,
        suction_mm=suction_mm,
        deficit_frac=deficit_frac,
    )
    if hours == 0.0:
        return 0.0
    pull = suction_mm * deficit_frac
    if rain_mm_h <= conductivity_mm_h:
        return rain_mm_h * hours
    at_ponding = conductivity_mm_h * pull / (rain_mm_h - conductivity_mm_h)
    ponded_h = hours - at_ponding / rain_mm_h
    if ponded_h <= 0.0:
        return rain_mm_h * hours
    return _ponded_mm(at_ponding, conductivity_mm_h * ponded_h, pull)


def _ponded_mm(start_mm: float, gain_mm: float, pull_mm: float) -> float:
    """Solve F - start - pull ln((F + pull)/(start + pull)) = K t by Newton's steps from above."""
    total = start_mm + gain_mm + math.sqrt(2.0 * pull_mm * gain_mm) + pull_mm
    for _ in range(60):
        miss = total - start_mm - pull_mm * math.log((total + pull_mm) / (start_mm + pull_mm)) - gain_mm
        step = miss * (total + pull_mm) / total
        total -= step
        if abs(step) <= 1e-12 * total:
            break
    return total
