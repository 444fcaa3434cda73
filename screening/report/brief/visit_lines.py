"""What is asked, shot and tested on site, in lines of the brief."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from screening.plain_text import clean
from screening.units import UnitSystem, format_value

LINE_CHARS = 420
"""Longest line of a brief: a sentence of the toolkit fits, text of a file is cut."""
NAME_CHARS = 40
_MAX_OF_PART = {"question": 4, "level": 4, "test": 2}


LEVEL_95 = 1.96
"""Share of the RMSE at the 95 % level: FGDC-STD-007.3-1998, from memory."""


def line(text: object) -> str:
    """Make one line of text, cut where it is too long for the sheet."""
    return clean(text, LINE_CHARS)


def first(lines: Sequence[str], n: int, rest_in: str) -> tuple[str, ...]:
    """Take the first lines, and say in which file the others stand."""
    more = (f"and {len(lines) - n} more in {rest_in}",) if len(lines) > n else ()
    return (*lines[:n], *more)


def on_site(visit: Iterable[dict[str, Any]], units: UnitSystem) -> list[tuple[str, tuple[str, ...]]]:
    """What this lot asks for before all; what every visit asks stands on the sheet."""
    by_part: dict[str, list[str]] = {"question": [], "level": [], "test": []}
    n_photos = 0
    for row in visit:
        if row["part"] == "photo":
            n_photos += 1
        elif row["part"] != "question" or row["subject_id"]:
            by_part[row["part"]].append(_visit_line(row, units))
    names = {"question": "Ask", "level": "Shoot levels", "test": "Test"}
    parts = [
        (names[part], first(list(dict.fromkeys(lines)), _MAX_OF_PART[part], "visit_sheet.html"))
        for part, lines in by_part.items()
        if lines
    ]
    general = "What every visit asks, and room for the answers, stand in visit_sheet.html"
    parts.append(("Also", (f"{general}; photos of {n_photos} places." if n_photos else f"{general}.",)))
    return parts


def _visit_line(row: dict[str, Any], units: UnitSystem) -> str:
    subject = f" ({clean(row['subject_id'], NAME_CHARS)})" if row["subject_id"] else ""
    text = f"{row['item']}{subject}"
    if row["part"] == "level":
        expected, tolerance = (format_value(row[name], "m", units) for name in ("expected_elev_m", "tolerance_m"))
        return line(f"{text}: {expected} expected, within {tolerance}")
    if row["part"] == "test":
        return line(f"{text}: {row['n_wanted']} at {format_value(row['depth_m'], 'm', units)} depth; {row['why']}")
    # Why a structure is asked about stands under what was found.
    return line(text)
