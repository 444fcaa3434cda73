"""What a reader must know of how a result came about."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeAlias

from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject

NoteValue: TypeAlias = str | int | float
NoteRow: TypeAlias = tuple[str, str, str, tuple[tuple[str, NoteValue], ...]]
"""A note as JSON has it: kind, subject, code, and pairs of a name and a value."""


@dataclass(frozen=True, kw_only=True)
class Note:
    """Something assumed, converted, repaired or missing that a reader of the result must know.

    Parameters
    ----------
    kind, subject, code
        What kind of thing is said, of what, and which.
    values
        Numbers and names that its sentence tells, by name; a unit ends the name.
    """

    kind: NoteKind
    subject: NoteSubject
    code: NoteCode
    values: tuple[tuple[str, NoteValue], ...] = ()

    def value(self, name: str) -> NoteValue:
        """Give one of its values; KeyError where it has none of that name."""
        return dict(self.values)[name]

    def as_row(self) -> NoteRow:
        """Give the note as JSON can hold it."""
        return str(self.kind), str(self.subject), str(self.code), self.values

    @classmethod
    def of_row(cls, row: Iterable[object]) -> Note:
        """Make the note that `as_row` gave, be it from JSON, which knows no tuples."""
        kind, subject, code, values = row
        assert isinstance(values, (list, tuple))
        return note(NoteKind(str(kind)), NoteSubject(str(subject)), NoteCode(str(code)), **dict(values))


def note(kind: NoteKind, subject: NoteSubject | str, code: NoteCode, /, **values: object) -> Note:
    """Make a note.

    Parameters
    ----------
    kind, subject, code
        As of `Note`; a subject may be given as the name of a layer.
    values
        Texts and numbers, numpy's among them: they are kept as Python's own, so that a note can be hashed, sent to
        another process and written as JSON.

    Raises
    ------
    TypeError
        A value is neither a text nor a number.
    """
    pairs = tuple((name, _plain(name, value)) for name, value in values.items())
    return Note(kind=kind, subject=NoteSubject(subject), code=code, values=pairs)


def merge_notes(*groups: Iterable[Note]) -> tuple[Note, ...]:
    """Join notes, each once, in the order of their first appearance."""
    return tuple(dict.fromkeys(each for group in groups for each in group))


def _plain(name: str, value: object) -> NoteValue:
    own = value.item() if hasattr(value, "item") else value
    if isinstance(own, str):
        return str(own)  # a code becomes its text, as it is after JSON
    if isinstance(own, (int, float)):
        return own
    raise TypeError(f"value {name} of a note is neither a text nor a number: {value!r}")
