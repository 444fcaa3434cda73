"""Ground covers: curve numbers by soil group, roughness of sheet flow, runoff coefficients, each with its source."""

from __future__ import annotations

from dataclasses import dataclass

GROUPS = ("A", "B", "C", "D")
CONDITIONS = ("poor", "fair", "good")
CN_IMPERVIOUS = 98.0
"""Paved ground and roofs: TR-55 (1986) Table 2-2a."""

_URBAN = "TR-55 (1986) Table 2-2a"
_CROPS = "TR-55 (1986) Table 2-2b, from memory"
_OTHER = "TR-55 (1986) Table 2-2c"

LAWN_COEFFICIENTS = {"sandy": (0.075, 0.125, 0.175), "heavy": (0.15, 0.20, 0.30)}
"""Rational runoff coefficients of lawns on sandy and heavy soil, by slope class: the middle of each range of HEC-22
(3rd ed., 2009) Table 3-1. Groups A and B count as sandy, C, D and unknown as heavy: common practice."""
LAWN_SLOPE_LIMITS_PCT = (2.0, 7.0)
"""Flat below, average between, steep above: HEC-22 Table 3-1."""

# Middle of the ranges of HEC-22 Table 3-1; unimproved areas (.10-.30) and railroad yards and playgrounds from memory.
_C_ROOF, _C_DRIVE, _C_ASPHALT, _C_UNIMPROVED = 0.85, 0.80, 0.825, 0.20
# HEC-22 Table 3-2 (TR-55 Table 3-1): smooth asphalt, fallow, cultivated with residue over 20 %, short grass prairie,
# range, dense grass, woods with light underbrush.
_N_SMOOTH, _N_FALLOW, _N_CROPS, _N_SHORT, _N_RANGE, _N_DENSE, _N_WOODS = 0.011, 0.05, 0.17, 0.15, 0.13, 0.24, 0.40


@dataclass(frozen=True, kw_only=True)
class Cover:
    """One kind of ground.

    Parameters
    ----------
    name
        In the words of the table that it comes from, shortened.
    curve_number
        By group A, B, C, D. Where `impervious_frac` is not 0, of good open space; for cells the pervious part is open
        space in the condition of the criteria.
    source
        Where the curve numbers come from.
    sheet_n
        Manning's roughness for sheet flow.
    coefficient
        Rational runoff coefficient; None = a lawn's, by soil and slope.
    is_paved
        Shallow concentrated flow runs on pavement.
    impervious_frac
        Connected impervious share that is added to the pervious part.
    """

    name: str
    curve_number: tuple[float, float, float, float]
    source: str
    sheet_n: float = _N_DENSE
    coefficient: float | None = None
    is_paved: bool = False
    impervious_frac: float = 0.0


_OPEN_SPACE = {"poor": (68.0, 79.0, 86.0, 89.0), "fair": (49.0, 69.0, 79.0, 84.0), "good": (39.0, 61.0, 74.0, 80.0)}
_PAVED = (CN_IMPERVIOUS,) * 4


def _developed(name: str, share: str, impervious_frac: float) -> Cover:
    source = f"composite with connected impervious ground, {share} (class text from memory), its middle taken"
    return Cover(name=name, curve_number=_OPEN_SPACE["good"], source=source, impervious_frac=impervious_frac)


COVERS: tuple[Cover, ...] = (
    *(
        Cover(name=f"open space, {condition}", curve_number=numbers, source=_URBAN)
        for condition, numbers in _OPEN_SPACE.items()
    ),
    Cover(name="paved", curve_number=_PAVED, source=_URBAN, sheet_n=_N_SMOOTH, coefficient=_C_ASPHALT, is_paved=True),
    Cover(name="driveway", curve_number=_PAVED, source=_URBAN, sheet_n=_N_SMOOTH, coefficient=_C_DRIVE, is_paved=True),
    Cover(name="roof", curve_number=_PAVED, source=_URBAN, sheet_n=_N_SMOOTH, coefficient=_C_ROOF, is_paved=True),
    Cover(
        name="paved road with open ditches",
        curve_number=(83, 89, 92, 93),
        source=_URBAN,
        sheet_n=_N_SMOOTH,
        coefficient=_C_ASPHALT,
        is_paved=True,
    ),
    Cover(name="gravel", curve_number=(76, 85, 89, 91), source=_URBAN, sheet_n=_N_SMOOTH, coefficient=0.50),
    Cover(name="dirt", curve_number=(72, 82, 87, 89), source=_URBAN, sheet_n=_N_FALLOW, coefficient=0.40),
    Cover(name="newly graded", curve_number=(77, 86, 91, 94), source=_URBAN, sheet_n=_N_FALLOW, coefficient=0.40),
    Cover(
        name="desert, natural",
        curve_number=(63, 77, 85, 88),
        source=_URBAN,
        sheet_n=_N_RANGE,
        coefficient=_C_UNIMPROVED,
    ),
    Cover(name="desert, artificial", curve_number=(96, 96, 96, 96), source=_URBAN, sheet_n=_N_FALLOW, coefficient=0.80),
    Cover(
        name="commercial",
        curve_number=(89, 92, 94, 95),
        source=_URBAN,
        sheet_n=_N_SMOOTH,
        coefficient=0.825,
        is_paved=True,
    ),
    Cover(
        name="industrial",
        curve_number=(81, 88, 91, 93),
        source=_URBAN,
        sheet_n=_N_SMOOTH,
        coefficient=0.70,
        is_paved=True,
    ),
    Cover(name="residential, 1/8 acre", curve_number=(77, 85, 90, 92), source=_URBAN, coefficient=0.50),
    Cover(name="residential, 1/4 acre", curve_number=(61, 75, 83, 87), source=_URBAN, coefficient=0.40),
    Cover(name="residential, 1/3 acre", curve_number=(57, 72, 81, 86), source=_URBAN, coefficient=0.40),
    Cover(name="residential, 1/2 acre", curve_number=(54, 70, 80, 85), source=_URBAN, coefficient=0.325),
    Cover(name="residential, 1 acre", curve_number=(51, 68, 79, 84), source=_URBAN, coefficient=0.325),
    Cover(name="residential, 2 acres", curve_number=(46, 65, 77, 82), source=_URBAN, coefficient=0.325),
    Cover(
        name="row crops",
        curve_number=(67, 78, 85, 89),
        source=_CROPS + ": straight row, good",
        sheet_n=_N_CROPS,
        coefficient=0.30,
    ),
    Cover(
        name="small grain",
        curve_number=(63, 75, 83, 87),
        source=_CROPS + ": straight row, good",
        sheet_n=_N_CROPS,
        coefficient=0.30,
    ),
    Cover(
        name="fallow", curve_number=(77, 86, 91, 94), source=_CROPS + ": bare soil", sheet_n=_N_FALLOW, coefficient=0.40
    ),
    Cover(name="pasture, poor", curve_number=(68, 79, 86, 89), source=_OTHER, sheet_n=_N_RANGE),
    Cover(name="pasture, fair", curve_number=(49, 69, 79, 84), source=_OTHER, sheet_n=_N_RANGE),
    Cover(name="pasture, good", curve_number=(39, 61, 74, 80), source=_OTHER, sheet_n=_N_RANGE),
    Cover(name="meadow", curve_number=(30, 58, 71, 78), source=_OTHER, sheet_n=_N_SHORT),
    Cover(
        name="brush, poor", curve_number=(48, 67, 77, 83), source=_OTHER, sheet_n=_N_WOODS, coefficient=_C_UNIMPROVED
    ),
    Cover(
        name="brush, fair", curve_number=(35, 56, 70, 77), source=_OTHER, sheet_n=_N_WOODS, coefficient=_C_UNIMPROVED
    ),
    Cover(
        name="brush, good", curve_number=(30, 48, 65, 73), source=_OTHER, sheet_n=_N_WOODS, coefficient=_C_UNIMPROVED
    ),
    Cover(
        name="woods-grass, poor",
        curve_number=(57, 73, 82, 86),
        source=_OTHER,
        sheet_n=_N_DENSE,
        coefficient=_C_UNIMPROVED,
    ),
    Cover(
        name="woods-grass, fair",
        curve_number=(43, 65, 76, 82),
        source=_OTHER,
        sheet_n=_N_DENSE,
        coefficient=_C_UNIMPROVED,
    ),
    Cover(
        name="woods-grass, good",
        curve_number=(32, 58, 72, 79),
        source=_OTHER,
        sheet_n=_N_DENSE,
        coefficient=_C_UNIMPROVED,
    ),
    Cover(
        name="woods, poor", curve_number=(45, 66, 77, 83), source=_OTHER, sheet_n=_N_WOODS, coefficient=_C_UNIMPROVED
    ),
    Cover(
        name="woods, fair", curve_number=(36, 60, 73, 79), source=_OTHER, sheet_n=_N_WOODS, coefficient=_C_UNIMPROVED
    ),
    Cover(
        name="woods, good", curve_number=(30, 55, 70, 77), source=_OTHER, sheet_n=_N_WOODS, coefficient=_C_UNIMPROVED
    ),
    Cover(name="farmstead", curve_number=(59, 74, 82, 86), source=_OTHER, coefficient=0.325),
    Cover(
        name="wetland",
        curve_number=(78, 78, 78, 78),
        source="common practice: meadow of group D",
        sheet_n=_N_SHORT,
        coefficient=0.30,
    ),
    Cover(
        name="water",
        curve_number=(100, 100, 100, 100),
        source="common practice: all rain on water runs off",
        sheet_n=_N_SMOOTH,
        coefficient=1.0,
    ),
    _developed("developed, open", "less than 20 %", 0.10),
    _developed("developed, low", "20 to 49 %", 0.35),
    _developed("developed, medium", "50 to 79 %", 0.65),
    _developed("developed, high", "80 to 100 %", 0.90),
)
"""All covers; a raster of covers holds the position in this tuple + 1, and 0 where nothing is said. Runoff
coefficients that HEC-22 Table 3-1 does not give (gravel, bare ground, crops, wetland, water) are common practice."""

CODE_OF = {cover.name: code for code, cover in enumerate(COVERS, start=1)}
LAWN = "lawn"
"""Word for open space whose condition is the criterion `lawn_condition`; its code is 0, like ground of no layer."""


def open_space_code(condition: str) -> int:
    """Code of open space in a condition: poor, fair or good."""
    return CODE_OF[f"open space, {condition}"]
