"""The only unit factors of the project, and how SI values are shown to readers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

# Exact by definition: international foot 1959; US survey foot 1200/3937 m; US gallon 231 in3 (NIST SP 811, appendix B).
M_PER_FT = 0.3048
M_PER_US_FT = 1200.0 / 3937.0
MM_PER_IN = 25.4
M3_PER_FT3 = M_PER_FT**3
M3_PER_GAL = 231.0 * (MM_PER_IN / 1000.0) ** 3
MM_PER_M = 1000.0
GPM_PER_L_S = 60.0 / (1000.0 * M3_PER_GAL)
"""US gallons a minute in a litre a second."""
MM_H_PER_UM_S = 3.6

UnitSystem = Literal["metric", "us"]
UNIT_SYSTEMS: tuple[UnitSystem, ...] = ("metric", "us")

VERTICAL_UNITS_M: dict[str, float] = {"m": 1.0, "ft": M_PER_FT, "us-ft": M_PER_US_FT, "cm": 0.01}
"""Metres per vertical unit, by the word the command line uses."""


@dataclass(frozen=True)
class Shown:
    """How one SI unit is shown: multiply by `factor`, write `symbol`, round to `decimals`."""

    factor: float
    symbol: str
    decimals: int


_METRIC: dict[str, Shown] = {
    "m": Shown(1.0, "m", 2),
    "m2": Shown(1.0, "m²", 0),
    "m3": Shown(1.0, "m³", 1),
    "m_s": Shown(1.0, "m/s", 1),
    "m3_s": Shown(1.0, "m³/s", 4),
    "kn": Shown(1.0, "kN", 0),
    "mm": Shown(1.0, "mm", 0),
    "mm_h": Shown(1.0, "mm/h", 1),
    "min": Shown(1.0, "min", 0),
    "h": Shown(1.0, "h", 0),
    "yr": Shown(1.0, "yr", 1),
    "l_s": Shown(1.0, "L/s", 1),
    "l": Shown(1.0, "L", 0),
    "gpm": Shown(1.0, "gpm", 0),
    "pct": Shown(1.0, "%", 1),
    "deg": Shown(1.0, "°", 0),
    "frac": Shown(100.0, "%", 0),
    "": Shown(1.0, "", 0),
}
_US: dict[str, Shown] = {
    **_METRIC,
    "m": Shown(1.0 / M_PER_FT, "ft", 1),
    "m2": Shown(1.0 / M_PER_FT**2, "sq ft", 0),
    "m3": Shown(1.0 / M3_PER_FT3, "cu ft", 0),
    "m_s": Shown(1.0 / M_PER_FT, "ft/s", 1),
    "m3_s": Shown(1.0 / M3_PER_FT3, "cu ft/s", 2),
    "mm": Shown(1.0 / MM_PER_IN, "in", 2),
    "mm_h": Shown(1.0 / MM_PER_IN, "in/h", 2),
    "l_s": Shown(1.0 / (1000.0 * M3_PER_FT3), "cfs", 2),
    "l": Shown(1.0 / (1000.0 * M3_PER_GAL), "gal", 0),
}


def shown_unit(unit: str, system: UnitSystem = "metric") -> Shown:
    """Give the way an SI unit is shown in a unit system.

    Parameters
    ----------
    unit
        SI unit as it ends a column name: `m`, `m2`, `m3`, `m_s`, `m3_s`, `l`, `l_s`, `gpm`, `kn`, `mm`, `mm_h`, `min`,
        `h`, `yr`, `pct`, `deg`, `frac` or empty.
    system
        `metric` or `us`.

    Returns
    -------
    Factor, symbol and decimals.

    Raises
    ------
    KeyError
        The unit is not one that the project declares.
    """
    return (_US if system == "us" else _METRIC)[unit]


def format_value(value: float | None, unit: str, system: UnitSystem = "metric") -> str:
    """Write an SI number with its unit for a reader; an unknown number is `not assessed`, never 0.

    Examples
    --------
    >>> format_value(3.048, "m", "us")
    '10.0 ft'
    >>> format_value(None, "m3")
    'not assessed'
    """
    if value is None or value != value:
        return "not assessed"
    shown = shown_unit(unit, system)
    text = f"{value * shown.factor:,.{shown.decimals}f}"
    return f"{text} {shown.symbol}" if shown.symbol and shown.symbol not in "%°" else text + shown.symbol
