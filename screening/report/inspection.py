"""What is said of inputs that were looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING

from screening.report.words.notes import note_words

if TYPE_CHECKING:
    from screening.inputs import Inspected, Inspection


def defect_lines(item: Inspected) -> list[str]:
    """Say what is wrong with an input, was assumed or is odd about it: what keeps it from use first."""
    return list(dict.fromkeys([*item.errors, *map(note_words, item.notes)]))


def inspection_lines(found: Inspection) -> list[str]:
    """Say of each input what it is and what is wrong with it, and whether a screening can run."""
    lines = []
    for item in found.items:
        lines.append(f"{item.subject}: {'ok' if item.ok else 'CANNOT BE USED'}   {item.path}")
        lines += [f"  {label + ':':<22} {text}" for label, text in item.facts.items()]
        lines += [f"  ! {defect}" for defect in defect_lines(item)]
    lines.append("A screening can run." if found.can_run else f"A screening cannot run: {found.why_not}")
    return lines
