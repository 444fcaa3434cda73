"""Several codes in one text, each with its number, so that a table can be written and read back."""

from __future__ import annotations

from collections.abc import Iterable

CODES_JOIN = "; "
"""Between the codes of one text."""
_IS = "="


def pack(pairs: Iterable[tuple[str, float]]) -> str:
    """Join codes with their numbers, without loss; no code holds a semicolon or an equals sign.

    Examples
    --------
    >>> pack([("too steep", 0.25), ("under trees", 0.125)])
    'too steep=0.25; under trees=0.125'
    """
    return CODES_JOIN.join(f"{code}{_IS}{float(number)!r}" for code, number in pairs)


def unpack(text: str) -> list[tuple[str, float]]:
    """Take codes and their numbers apart again.

    Examples
    --------
    >>> unpack("too steep=0.25; under trees=0.125")
    [('too steep', 0.25), ('under trees', 0.125)]
    """
    parts = [part.rpartition(_IS) for part in text.split(CODES_JOIN) if part]
    return [(code, float(number)) for code, _, number in parts]
