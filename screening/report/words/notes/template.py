"""What tells a note: one sentence with places for its values, or a function where their number of parts differs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from screening.models import NoteValue
from screening.schema.codes.notes import NoteCode


@dataclass(frozen=True)
class Composed:
    """A sentence of several parts.

    Parameters
    ----------
    fields
        Names of the values it reads.
    tell
        Makes the sentence of them.
    """

    fields: tuple[str, ...]
    tell: Callable[[Mapping[str, NoteValue]], str]


Template: TypeAlias = str | Composed
"""In a text, `{name}` is a value of the note; an area `..._m2` can also be told as `..._ha`."""
Choices: TypeAlias = Mapping[tuple[NoteCode, str], Mapping[str, str]]
