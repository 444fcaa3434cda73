"""Text of data made harmless for a terminal."""

from __future__ import annotations


def plain_lines(text: str) -> str:
    """Put a space for every mark that is not printed, but for line ends.

    Text of the data must not move the cursor, colour the terminal, name a link or turn its direction.

    Examples
    --------
    >>> plain_lines("one" + chr(27) + "[31m" + chr(10) + "two")
    'one [31m\\ntwo'
    """
    return "".join(mark if mark.isprintable() or mark == "\n" else " " for mark in text)
