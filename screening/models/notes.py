"""What a reader must know of how a result came about."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

NoteKind = Literal["assumed", "converted", "repaired", "missing", "caution"]


@dataclass(frozen=True)
class Note:
    """Something assumed, converted, repaired or missing that a reader of the result must know."""

    kind: NoteKind
    subject: str
    text: str


def merge_notes(*groups: Iterable[Note]) -> tuple[Note, ...]:
    """Join notes, each once, in the order of their first appearance."""
    return tuple(dict.fromkeys(note for group in groups for note in group))
