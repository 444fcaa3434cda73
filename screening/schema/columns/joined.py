"""Columns that hold several ids in one text."""

from __future__ import annotations

from collections.abc import Iterable


def split_ids(text: str, known: Iterable[str]) -> list[str]:
    """Take apart ids joined by ", ", although an id may itself hold a comma.

    Parameters
    ----------
    text
        Ids joined by ", ".
    known
        Every id that may stand in it; the longest that fits is taken.

    Returns
    -------
    The ids in their order; what is none of them is left out.

    Examples
    --------
    >>> split_ids("Lot 5, Block 2, A-1", ["A-1", "Lot 5, Block 2"])
    ['Lot 5, Block 2', 'A-1']
    """
    names, parts = set(known), text.split(", ")
    found, start = [], 0
    while start < len(parts):
        ends = range(len(parts), start, -1)
        end = next((end for end in ends if ", ".join(parts[start:end]) in names), 0)
        if end:
            found.append(", ".join(parts[start:end]))
        start = end or start + 1
    return found
