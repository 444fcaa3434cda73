"""In what thresholds differ from the default, in lines for a reader."""

from __future__ import annotations

from typing import Any

from screening.schema.criteria.reading import differences
from screening.schema.criteria.sources import describe, profile_words
from screening.schema.criteria.thresholds import Criteria


def difference_lines(chosen: Criteria) -> list[str]:
    """Say in what thresholds differ from the default, and where each value comes from."""
    default, differing = Criteria(), differences(chosen, Criteria())
    lines = [f"Thresholds: {profile_words(chosen)}"]
    for row in describe(chosen):
        if row.name in differing:
            before = default.value(row.name)
            lines.append(f"  {row.name} = {_value_words(row.value)} (default {_value_words(before)})")
            lines.append(f"    {row.source}")
    return lines if differing else [*lines, "  no value differs from the default"]


def _value_words(value: Any) -> str:
    return ", ".join(value) if isinstance(value, tuple) else f"{value:g}" if isinstance(value, float) else str(value)
