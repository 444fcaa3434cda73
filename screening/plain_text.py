"""Text of the data made harmless: no control characters, no marks that turn the direction of writing."""

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


def clean(text: object, limit: int) -> str:
    """Put it on one line: a space for what is not printed and for runs of space; cut what is too long.

    Examples
    --------
    >>> clean("one\\r\\ntwo\\x1b[31m  three", 12)
    'one two [31…'
    """
    joined = " ".join(plain_lines(str(text)[: 8 * limit]).split())
    return joined if len(joined) <= limit else joined[: limit - 1] + "…"
