"""The sentence of each note, in metric units: notes tell how files were read, and files keep their own units."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from screening.models import Note
from screening.report.words.notes import elevation, flow, layers, storm, terrain
from screening.report.words.notes.template import Choices, Composed, Template
from screening.schema.codes.notes import NoteCode, NoteSubject
from screening.schema.criteria import Criteria
from screening.units import UnitSystem

_ROOMS = (layers, elevation, terrain, flow, storm)

__all__ = ["TELLERS", "choices", "note_words", "templates"]


def templates() -> dict[NoteCode, Template]:
    """Give the words of every code; a code that two rooms tell would be a mistake of ours."""
    found: dict[NoteCode, Template] = {}
    for room in _ROOMS:
        assert not found.keys() & room.TEMPLATES.keys()
        found |= room.TEMPLATES
    return found


def choices() -> Choices:
    """Give the words of values that are codes themselves, by code of the note and name of the value."""
    return {key: words for room in _ROOMS for key, words in getattr(room, "CHOICES", {}).items()}


_TEMPLATES, _CHOICES = templates(), choices()


def note_words(note: Note) -> str:
    """Say a note in a sentence.

    Examples
    --------
    >>> from screening.models import note
    >>> from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
    >>> note_words(note(NoteKind.CAUTION, NoteSubject.ELEVATION, NoteCode.CELLS_WIDE, cell_m=5.0))
    'cells of 5 m are wider than a driveway: what is narrower cannot be seen'
    """
    template, values = _TEMPLATES[note.code], dict(note.values)
    if isinstance(template, Composed):
        return template.tell(values)
    chosen = {name: _chosen(note.code, name, value) for name, value in values.items()}
    hectares = {
        name.removesuffix("_m2") + "_ha": float(value) / 1e4 for name, value in values.items() if name.endswith("_m2")
    }
    return template.format(**chosen, **hectares)


def _chosen(code: NoteCode, name: str, value: Any) -> Any:
    words = _CHOICES.get((code, name))
    return words[str(value)] if words else value


def _row_words(row: Mapping[str, Any], criteria: Criteria, units: UnitSystem) -> str:
    return note_words(Note.of_row((row["kind"], NoteSubject(row["subject"]), row["code"], row["values"])))


TELLERS = {("notes", "text"): _row_words}
