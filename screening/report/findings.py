"""Verdicts and notes in plain words, shared by the map and the terminal."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Any

from screening.models import Note, Rain, Verdict
from screening.report.words.verdicts import (
    asked_words,
    confidence_words,
    not_given_words,
    note_words,
    row_of,
    source_words,
)
from screening.schema.codes.notes import NoteKind
from screening.schema.codes.verdicts import Aspect, Confidence, Operator, Outcome
from screening.schema.columns import Column
from screening.schema.criteria import Criteria
from screening.schema.layers import all_tables
from screening.storm.rainfall_tables import return_period_words
from screening.units import UnitSystem, format_value, shown_unit

_WORDS: dict[Aspect, dict[Outcome, str]] = {
    Aspect.PROBLEM: {
        Outcome.FAILED: "flagged",
        Outcome.NOT_ASSESSED: "not assessed",
        Outcome.PASSED: "not flagged",
    },
    Aspect.REMEDY: {
        Outcome.FAILED: "none found",
        Outcome.NOT_ASSESSED: "not assessed",
        Outcome.PASSED: "candidate",
    },
}
_OPERATOR_WORDS = {
    Operator.AT_MOST: "at most",
    Operator.AT_LEAST: "at least",
    Operator.BELOW: "below",
    Operator.EQUAL: "exactly",
}
MAX_SHOWN_CHARS = 600


def clip_text(text: str, limit: int = MAX_SHOWN_CHARS) -> str:
    """Cut text that is too long for a page; the tables keep all of it."""
    return text if len(text) <= limit else text[: limit - 1] + "…"


def is_missing(value: Any) -> bool:
    """True for None, NaN and the null of pandas."""
    if value is None or isinstance(value, float):
        return value is None or value != value
    if isinstance(value, str | bool | int):
        return False
    import pandas as pd

    return bool(pd.isna(value))


def format_unit_value(value: float | None, unit: str, units: UnitSystem) -> str:
    """Write a number of a verdict; a unit that the project does not convert is written as it is."""
    try:
        return format_value(value, unit, units)
    except KeyError:
        return "not assessed" if value is None or value != value else f"{value:,.4g} {unit}"


def format_cell(value: Any, column: Column, units: UnitSystem) -> str:
    """Write a value of a table for a reader; empty text stays empty.

    Examples
    --------
    >>> from screening.schema.columns.kinds import flag
    >>> format_cell(True, flag("is_small", "Small", "Narrow"), "metric")
    'yes'
    """
    missing = is_missing(value)
    if column.is_text:
        return "" if missing else clip_text(str(value))
    if missing:
        return "not assessed"
    if column.kind == "flag":
        return "yes" if value else "no"
    return format_value(float(value), column.unit, units)


def label_with_unit(column: Column, units: UnitSystem) -> str:
    """Label of a column with the unit that readers see."""
    symbol = shown_unit(column.unit, units).symbol if column.kind == "number" else ""
    return f"{column.label} ({symbol})" if symbol else column.label


def comparison_words(verdict: Verdict, units: UnitSystem) -> str:
    """Say what was compared with what, such as `Freeboard: 0.02 m (required: at least 0.15 m)`."""
    if not verdict.statistic:
        return clip_text(not_given_words(verdict))
    statistic = _labels().get(verdict.statistic, verdict.statistic.replace("_", " "))
    value = format_unit_value(verdict.value, verdict.unit, units)
    required = format_unit_value(verdict.threshold, verdict.unit, units)
    if value == required and verdict.value != verdict.threshold:
        # Rounded alike on either side of the threshold: say which side.
        value = f"{'just over' if (verdict.value or 0.0) > verdict.threshold else 'just under'} {value}"
    return f"{statistic}: {value} (required: {_OPERATOR_WORDS[verdict.operator]} {required})"


@cache
def _labels() -> dict[str, str]:
    return {column.name: column.label for columns in all_tables().values() for column in columns}


def background_words(verdict: Verdict, criteria: Criteria, units: UnitSystem = "metric") -> str:
    """Say what was asked, what to know beside it and where the threshold comes from."""
    row = row_of(verdict)
    asked, source = asked_words(row), source_words(row, criteria)
    note = clip_text(note_words(row, criteria, units)) if verdict.statistic else ""
    parts = [f"Asked: {asked[:1].lower()}{clip_text(asked)[1:]}"]
    parts += [f"{note[0].upper()}{note[1:]}"] if note else []
    parts += [f"Threshold: {clip_text(source)}"] if source else []
    parts += [f"Confidence: {confidence_words(row)}"] if verdict.trust.frac is not None else []
    return ". ".join(part.rstrip(".") for part in parts) + "."


def rain_words(rain: Rain, units: UnitSystem) -> str:
    """Name a rain with its depth, each once; say how often a typed depth comes, and where nobody asked for it."""
    depth = format_value(rain.depth_mm, "mm", units)
    name = clip_text(rain.label)
    words = depth if name == depth else f"{name}, {depth}"
    if rain.is_duration_assumed and rain.table is not None and rain.return_period_yr is not None:
        words += f", in {rain.duration_h:g} h {return_period_words(rain.return_period_yr, rain.table)}"
    return f"{words}, assumed" if rain.is_assumed and "assumed" not in words else words


def subject_words(verdict: Verdict) -> str:
    """Name the subject of a verdict, such as `Structure S-2`."""
    kind = verdict.subject_kind
    return f"{kind[:1].upper()}{kind[1:]} {clip_text(verdict.subject_id, 60)}".strip()


def outcome_words(verdict: Verdict) -> tuple[str, str]:
    """Say how a check came out, and the mark the page gives it: `failed`, `not assessed` or `passed`."""
    is_remedy = verdict.outcome is Outcome.FAILED and not verdict.is_flag
    mark = str(Outcome.PASSED if is_remedy else verdict.outcome)
    words = _WORDS[verdict.aspect][verdict.outcome]
    if verdict.is_indicative and verdict.outcome is not Outcome.NOT_ASSESSED:
        words += ", indicative"
    return f"{words}, {Confidence.WITHIN_ERROR}" if verdict.is_within_error else words, mark


def sort_notes(notes: Iterable[Note]) -> list[Note]:
    """What could mislead first, what was merely converted last."""
    kinds = (NoteKind.CAUTION, NoteKind.MISSING, NoteKind.ASSUMED, NoteKind.REPAIRED, NoteKind.CONVERTED)
    return sorted(notes, key=lambda note: kinds.index(note.kind))


def sort_verdicts(verdicts: Iterable[Verdict]) -> list[Verdict]:
    """Flagged first, then not assessed, then the rest, each in the order of the checks."""
    return sorted(verdicts, key=lambda verdict: (not verdict.is_flag, verdict.outcome is not Outcome.NOT_ASSESSED))
