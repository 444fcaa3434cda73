"""Text of the data made fit to print: no control characters, no marks that turn the direction of writing."""

from __future__ import annotations

import unicodedata

_UNSHOWN = frozenset(("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"))
"""General categories of the Unicode Standard, chapter 4.5: control, format, surrogate, private, unassigned, breaks."""


def clean(text: object, limit: int) -> str:
    """Put a space for what cannot be shown, join runs of space and cut what is too long.

    Examples
    --------
    >>> clean("one\\r\\ntwo\\x1b[31m  three", 12)
    'one two [31…'
    """
    kept = "".join(" " if unicodedata.category(mark) in _UNSHOWN else mark for mark in str(text)[: 8 * limit])
    joined = " ".join(kept.split())
    return joined if len(joined) <= limit else joined[: limit - 1] + "…"
