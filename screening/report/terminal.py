"""The result as a few lines of plain text for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence, Sized
from typing import Any

from screening.criteria import profile_words
from screening.models import BlockResult
from screening.report.cautions import TAGLINE
from screening.report.findings import clip_text, comparison_words, is_flag, rain_words, sort_notes, subject_words
from screening.units import UnitSystem

WIDTH = 100


def summarize(result: BlockResult, *, units: UnitSystem = "metric", title: str = "", max_lots: int = 12) -> str:
    """Say in a few lines what was found, what was not assessed and what was assumed.

    Parameters
    ----------
    result
        What was found.
    units
        What readers see.
    title
        Heading; empty = made from the lots.
    max_lots
        Lots named, those to visit first.

    Returns
    -------
    Lines of at most 100 characters, no colour codes, no control characters.
    """
    lots = result.summary.sort_values("visit_rank")
    rain = result.storm.rain
    place = f"lot {lots['lot_id'].iloc[0]}" if len(lots) == 1 else f"{len(lots)} lots"
    flagged = lots[lots["n_flags"] > 0]
    low_spots = result.depressions.table[result.depressions.table["part_of"] == ""]
    lines = [
        f"{title or place[0].upper() + place[1:]} ({TAGLINE[0].lower()}{TAGLINE[1:]})",
        f"{_count(lots, 'lot')}: {_count(result.structures, 'structure')}, "
        f"{_count(result.driveways, 'driveway')}; "
        f"{_count(low_spots, 'low spot')} in the window",
        f"Rain: {rain_words(rain, units)} ({clip_text(rain.source)})",
        f"Thresholds: {clip_text(profile_words(result.criteria))}",
        f"Flagged: {len(flagged)} of {_count(lots, 'lot')}",
    ]
    for _, lot in flagged.head(max_lots).iterrows():
        lines.append(_lot_line(lot))
    if len(flagged) > max_lots:
        lines.append(f"  and {len(flagged) - max_lots} more in summary.csv")
    if len(lots) == 1:
        failed = [verdict for verdict in result.verdicts if is_flag(verdict)]
        lines += [f"  - {subject_words(v)}: {comparison_words(v, units)}" for v in failed]
        lines += [f"Storage: {lot['storage_status']}: {lot['storage_why']}" for _, lot in lots.iterrows()
                  if lot["storage_status"]]  # fmt: skip
    lines += [_confidence_line(result), *_not_assessed(result)]
    lines += _notes(result)
    return fit_lines(lines)


def fit_lines(lines: Sequence[str], *, most: int = 2) -> str:
    """Join lines for a terminal: no control characters, wrapped at 100 characters, the rest of long ones cut."""
    return "\n".join(_fit(_clean(line), most) for line in lines)


def _count(rows: Sized, noun: str) -> str:
    return f"{len(rows)} {noun}" if len(rows) == 1 else f"{len(rows)} {noun}s"


def _lot_line(lot: Any) -> str:
    flags = "1 flag" if lot["n_flags"] == 1 else f"{int(lot['n_flags'])} flags"
    name = clip_text(str(lot["lot_id"]), 24)
    return f"{int(lot['visit_rank']):4d}. {name}: {lot['main_finding']} ({flags})"


def _confidence_line(result: BlockResult) -> str:
    """Say how many of the flags elevation error could make, or that it was not looked at."""
    n = result.criteria.n_realisations
    if n == 0:
        return "Confidence: not assessed; --realisations 50 says which findings hold under elevation error"
    flags = [verdict for verdict in result.verdicts if is_flag(verdict)]
    doubted = sum(verdict.is_within_error for verdict in flags)
    realised = "1 realisation" if n == 1 else f"{n} realisations"
    return f"Confidence: {doubted} of {_count(flags, 'flag')} within elevation error ({realised})"


def _not_assessed(result: BlockResult) -> list[str]:
    unknown = [verdict for verdict in result.verdicts if verdict.outcome == "not assessed"]
    if not unknown:
        return ["Not assessed: nothing; every check could be made"]
    by_check: dict[str, int] = {}
    for verdict in unknown:
        by_check[verdict.check] = by_check.get(verdict.check, 0) + 1
    return [
        f"Not assessed: {_count(unknown, 'check')}, for lack of data or of accuracy",
        *(f"  - {check} ({count})" for check, count in list(by_check.items())[:6]),
    ]


def _notes(result: BlockResult) -> list[str]:
    if not result.notes:
        return []
    shown = [f"  - {note.kind}, {note.subject}: {note.text}" for note in sort_notes(result.notes)[:8]]
    more = [f"  and {len(result.notes) - 8} more in result.json"] if len(result.notes) > 8 else []
    return ["Assumed, converted or missing:", *shown, *more]


def _clean(line: str) -> str:
    # Text of the data must not move the cursor, colour the terminal or turn its direction.
    return "".join(mark if mark.isprintable() else " " for mark in line)


def _fit(line: str, most: int) -> str:
    indent = " " * (len(line) - len(line.lstrip()) + 2)
    wrapped = textwrap.wrap(line, WIDTH, subsequent_indent=indent, max_lines=most, placeholder=" …")
    return "\n".join(wrapped)
