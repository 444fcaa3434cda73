"""Numbers that are stated from low to high, and the check that a size is one."""

from __future__ import annotations

import math
from dataclasses import dataclass

from screening.errors import InputError


@dataclass(frozen=True)
class Range:
    """A quantity between a low and a high figure, in the unit that its name says."""

    low: float
    high: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.low <= self.high < math.inf:
            raise InputError(
                "A range cannot be used", got=f"{self.low:g} to {self.high:g}", expected="0 <= low <= high, both finite"
            )

    def __add__(self, other: Range) -> Range:
        return Range(self.low + other.low, self.high + other.high)

    def __mul__(self, other: Range) -> Range:
        return Range(self.low * other.low, self.high * other.high)


def exactly(value: float) -> Range:
    """Give a figure that is known as a range without width."""
    return Range(value, value)


def round_outward(quantity: Range, *, figures: int = 2) -> Range:
    """Round the low figure down and the high figure up, so that the range holds what it held.

    Examples
    --------
    >>> round_outward(Range(12.34, 187.0))
    Range(low=12.0, high=190.0)
    """
    return Range(_rounded(quantity.low, figures, math.floor), _rounded(quantity.high, figures, math.ceil))


def _rounded(value: float, figures: int, towards: object) -> float:
    if abs(value) < 1e-290:  # ten to its exponent is no number
        return value
    exponent = math.floor(math.log10(value)) - figures + 1
    # Noise of the binary fraction must not push a round number on to the next one.
    scaled = round(value / 10.0**exponent, 9) if exponent >= 0 else round(value * 10.0**-exponent, 9)
    whole = math.floor(scaled) if towards is math.floor else math.ceil(scaled)
    return whole * 10.0**exponent if exponent >= 0 else whole / 10.0**-exponent


def check_sizes(what: str, *, may_be_zero: tuple[str, ...] = (), **sizes: float) -> None:
    """Refuse sizes that are no numbers above 0.

    Raises
    ------
    InputError
        One is negative, infinite or not a number, or 0 where it may not be.
    """
    for name, size in sizes.items():
        if not (0.0 < size < math.inf or (size == 0.0 and name in may_be_zero)):
            raise InputError(
                f"{what}: {name} cannot be used",
                got=f"{size:g}",
                expected="0 or more" if name in may_be_zero else "more than 0",
                mend="correct this size",
            )
