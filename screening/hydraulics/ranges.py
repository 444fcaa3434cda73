"""Ranges that given numbers must lie in, refused with a reason where they do not."""

from __future__ import annotations

import math

from screening.errors import InputError


def check_range(name: str, value: float, *, low: float = 0.0, high: float = math.inf, above: bool = False) -> None:
    """Refuse a number that is not finite or lies outside its range.

    Parameters
    ----------
    name
        What the number is, with its unit at the end.
    value
        The number.
    low, high
        Ends of the range, both inside it.
    above
        The number must lie above `low`, not on it.

    Raises
    ------
    InputError
        It does not.
    """
    if math.isfinite(value) and (value > low if above else value >= low) and value <= high:
        return
    bound = f"{'above' if above else 'at least'} {low:g}" if low > -math.inf else "a finite number"
    raise InputError(
        f"{name} is outside its range",
        got=f"{value:g}",
        expected=bound + (f", at most {high:g}" if high < math.inf else ""),
        mend="give it in SI units, as the end of its name says",
    )
