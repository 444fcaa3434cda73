"""Text of the PDF: marks that its font has, and lines broken to a width."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from screening.report.brief.picture import BOLD, REGULAR

_UNSHOWN = "\u25a1"


_RIGHT_TO_LEFT = ("R", "AL")


@cache
def _known_marks() -> frozenset[int]:
    """Marks that both fonts can show."""
    from fontTools.ttLib import TTFont

    marks = []
    for path in (REGULAR, BOLD):
        with TTFont(path) as font:
            marks.append(frozenset(font.getBestCmap()))
    return frozenset.intersection(*marks)


def shown(text: str) -> str:
    """Put a box for marks that the fonts lack, and right-to-left runs in the order in which they are seen."""
    import unicodedata

    from fpdf.bidi import BidiParagraph

    known = "".join(mark if ord(mark) in _known_marks() else _UNSHOWN for mark in text)
    if any(unicodedata.bidirectional(mark) in _RIGHT_TO_LEFT for mark in known):
        return "".join(letter.character for letter in BidiParagraph(known).get_reordered_characters())
    return known


def break_lines(text: str, wide: float, width_of: Callable[[str], float]) -> list[str]:
    """Break text at its spaces into lines no wider than given, and within a word that is wider than a line.

    fpdf2 breaks lines as well, but measures the whole line again at each letter; here each word is measured once.

    Examples
    --------
    >>> break_lines("one two threefour", 7, len)
    ['one two', 'threefo', 'ur']
    """
    space, lines, line, used = width_of(" "), [], "", 0.0
    for number, word in enumerate(text.split(" ")):
        needed = width_of(word)
        if number and used + space + needed <= wide:
            line, used = f"{line} {word}", used + space + needed
            continue
        if number:
            lines.append(line)
        while needed > wide and len(word) > 1:
            fits = max(1, _count_fitting(word, wide, width_of))
            lines.append(word[:fits])
            word = word[fits:]
            needed = width_of(word)
        line, used = word, needed
    return [*lines, line]


def _count_fitting(word: str, wide: float, width_of: Callable[[str], float]) -> int:
    """Letters of a word that a line holds."""
    run = 0.0
    for place, letter in enumerate(word):
        run += width_of(letter)
        if run > wide:
            return place
    return len(word)
