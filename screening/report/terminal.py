"""The result as a few lines of plain text for a terminal, to be read in ten seconds."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence, Sized
from pathlib import Path
from typing import Any

from screening.models import BlockResult
from screening.plain_text import plain_lines
from screening.report.cautions import TAGLINE
from screening.report.findings import clip_text, comparison_words, rain_words, sort_notes, subject_words
from screening.report.words import lots_told
from screening.report.words.notes import note_words
from screening.report.words.verdicts import asked_words, row_of
from screening.schema.codes.notes import NoteKind
from screening.schema.codes.verdicts import Outcome
from screening.schema.criteria import profile_words
from screening.units import UnitSystem

WIDTH = 80
_OPENED_FIRST = ("improvements.html", "map.html")
_MAX_SOURCE_CHARS = 40
_MAX_CAUTIONS = 3


def summarize(result: BlockResult, *, units: UnitSystem = "metric", title: str = "", max_lots: int = 8) -> str:
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
    Lines of at most 80 characters, no colour codes, no control characters.
    """
    lots = lots_told(result, units).sort_values("visit_rank")
    rain = result.storm.rain
    place = f"lot {lots['lot_id'].iloc[0]}" if len(lots) == 1 else f"{len(lots)} lots"
    flagged = lots[lots["n_flags"] > 0]
    low_spots = result.depressions.table[result.depressions.table["part_of"] == ""]
    lines = [
        f"{title or place[0].upper() + place[1:]} ({TAGLINE[0].lower()}{TAGLINE[1:]})",
        f"{_count(lots, 'lot')}: {_count(result.structures, 'structure')}, "
        f"{_count(result.driveways, 'driveway')}; "
        f"{_count(low_spots, 'low spot')} in the window",
        f"Rain: {rain_words(rain, units)} ({_short(rain.source)}). "
        f"Thresholds: {clip_text(profile_words(result.criteria), _MAX_SOURCE_CHARS)}",
        "",
        f"Flagged: {len(flagged)} of {_count(lots, 'lot')}" + (", to visit in this order:" if len(flagged) > 1 else ""),
    ]
    for _, lot in flagged.head(max_lots).iterrows():
        lines.append(_lot_line(lot))
    if len(flagged) > max_lots:
        lines.append(f"  and {len(flagged) - max_lots} more in summary.csv")
    if len(lots) == 1:
        failed = [verdict for verdict in result.verdicts if verdict.is_flag]
        lines += [f"  - {subject_words(v)}: {comparison_words(v, units)}" for v in failed]
        lines += [
            f"Storage: {lot['storage_status']}: {lot['storage_why']}"
            for _, lot in lots.iterrows()
            if lot["storage_status"]
        ]
    lines += ["", _confidence_line(result), _not_assessed(result), *_notes(result)]
    return fit_lines(lines)


def fit_lines(lines: Sequence[str], *, most: int = 2) -> str:
    """Join lines for a terminal: no control characters, wrapped at 80 characters, the rest of long ones cut."""
    return "\n".join(_fit(plain_lines(line.replace("\n", " ")), most) for line in lines)


def _count(rows: Sized, noun: str) -> str:
    return f"{len(rows)} {noun}" if len(rows) == 1 else f"{len(rows)} {noun}s"


def _lot_line(lot: Any) -> str:
    flags = "1 flag" if lot["n_flags"] == 1 else f"{int(lot['n_flags'])} flags"
    name = clip_text(str(lot["lot_id"]), 24)
    return f"{int(lot['visit_rank']):4d}. {name}: {lot['main_finding']} ({flags})"


def _confidence_line(result: BlockResult) -> str:
    """Say how many of the flags elevation error could make, or that it was not looked at."""
    n = result.criteria.findings.n_realisations
    if n == 0:
        return "Confidence: not assessed (--realisations 50 says which findings hold)"
    flags = [verdict for verdict in result.verdicts if verdict.is_flag]
    doubted = sum(verdict.is_within_error for verdict in flags)
    realised = "1 realisation" if n == 1 else f"{n} realisations"
    return f"Confidence: {doubted} of {_count(flags, 'flag')} within elevation error ({realised})"


def _not_assessed(result: BlockResult) -> str:
    """Say on one line what could not be checked: unknown is never a pass."""
    unknown = [verdict for verdict in result.verdicts if verdict.outcome is Outcome.NOT_ASSESSED]
    if not unknown:
        return "Not assessed: nothing; every check could be made"
    by_check: dict[str, int] = {}
    for verdict in unknown:
        asked = asked_words(row_of(verdict))
        by_check[asked] = by_check.get(asked, 0) + 1
    said = "; ".join(f"{check[:1].lower()}{check[1:]} ({count})" for check, count in list(by_check.items())[:3])
    more = f"; and {len(by_check) - 3} more" if len(by_check) > 3 else ""
    return f"Not assessed: {_count(unknown, 'check')}, for lack of data or of accuracy: {said}{more}"


def _notes(result: BlockResult) -> list[str]:
    """Cautions in words, missing inputs by name, and how many notes are left."""
    notes = sort_notes(result.notes)
    cautions = [note for note in notes if note.kind is NoteKind.CAUTION]
    missing = list(dict.fromkeys(clip_text(note.subject, 24) for note in notes if note.kind is NoteKind.MISSING))
    lines = [f"Caution, {note.subject}: {note_words(note)}" for note in cautions[:_MAX_CAUTIONS]]
    if missing:
        lines.append(f"Missing, whole or in part: {', '.join(missing)}")
    n_left = len(notes) - min(len(cautions), _MAX_CAUTIONS)
    if n_left:
        lines.append(
            f"{_count(range(n_left), 'note')} on what was missing, assumed, converted or repaired: result.json"
        )
    return lines


def files_words(written: Mapping[str, Path]) -> str:
    """Say which file to open first, which to hand over, and what else there is, each folder once.

    Parameters
    ----------
    written
        Paths as `write_outputs` gives them.
    """
    paths = list(written.values())
    if not paths:
        return ""
    folder = min((path.parent for path in paths), key=lambda parent: len(parent.parts))
    own = [path.name for path in paths if path.parent == folder]
    below = dict.fromkeys(f"{path.parent.name}/" for path in paths if path.parent != folder)
    pages = [name for name in own if name in _OPENED_FIRST]
    first = pages[0] if pages else own[0]
    briefs = [path.name for key, path in written.items() if key.startswith("brief_") and path.parent == folder]
    shown = [name for name in briefs if name.endswith(".pdf")] or briefs
    lines = [f"Open first: {folder / first}"]
    if shown:
        lines.append(f"To hand over: {', '.join(shown)}")
    rest = [name for name in own if name not in (first, *shown)]
    if rest:
        lines.append(f"Also there: {', '.join(rest)}")
    if below:
        lines.append(f"A whole screening each, with map and briefs: {', '.join(below)}")
    # A path is never broken, so that it can be copied.
    return "\n".join([plain_lines(lines[0]), fit_lines(lines[1:], most=8)])


def _short(source: str) -> str:
    """The head of a source: tables carry long ones."""
    return clip_text(source.partition(";")[0].strip(), _MAX_SOURCE_CHARS)


def _fit(line: str, most: int) -> str:
    indent = " " * (len(line) - len(line.lstrip()) + 2)
    wrapped = textwrap.wrap(line, WIDTH, subsequent_indent=indent, max_lines=most, placeholder=" …")
    return "\n".join(wrapped)
