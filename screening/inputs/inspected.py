"""One input as it is looked at: what it is, what is odd about it, and why it cannot be used."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from screening.errors import ScreeningError
from screening.models import Note, merge_notes
from screening.schema.codes.notes import NoteKind, NoteSubject


@dataclass(frozen=True, kw_only=True)
class Inspected:
    """One input.

    Parameters
    ----------
    subject
        elevation, lots, structures, ... or rainfall.
    path
        As it was given.
    facts
        What it is: text by label.
    errors
        Why it cannot be used, as reading it says; empty if it can.
    notes
        What is odd about it or was assumed.
    """

    subject: NoteSubject
    path: str
    facts: dict[str, str]
    errors: tuple[str, ...]
    notes: tuple[Note, ...]

    @property
    def ok(self) -> bool:
        """True where it can be used."""
        return not self.errors


@dataclass(kw_only=True)
class Draft:
    """A finding as it is made."""

    subject: NoteSubject
    path: str
    facts: dict[str, str] = field(default_factory=dict)
    notes: list[Note] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)

    def attempt(self, step: Callable[[], Any]) -> Any:
        """Run a step; what goes wrong becomes an error of the input."""
        try:
            return step()
        except ScreeningError as problem:
            self.errors.append(str(problem))
        except Exception as problem:  # A file broken in a way no reader foresees is still a finding, not a crash.
            self.errors.append(f"It cannot be read: {type(problem).__name__}: {problem}")
        return None

    def add(self, notes: Iterable[Note]) -> None:
        """Keep what a reader may have to mend: a mere conversion is no defect."""
        self.notes += [each for each in notes if each.kind is not NoteKind.CONVERTED]

    def done(self) -> Inspected:
        """Close the finding."""
        return Inspected(
            subject=self.subject,
            path=self.path,
            facts=dict(self.facts),
            errors=tuple(dict.fromkeys(self.errors)),
            notes=merge_notes(self.notes),
        )
