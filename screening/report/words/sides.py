"""Sides of structures in words."""

from __future__ import annotations

from screening.schema.codes.structures import Side


def wall_words(side: str) -> str:
    """Name a side with its article; `its walls` where there is no telling which.

    Examples
    --------
    >>> wall_words(Side.NORTH_EAST), wall_words(Side.ALL)
    ('the north-east side', 'its walls')
    """
    return "its walls" if side in ("", Side.ALL) else f"the {side} side"
