"""How a threshold is declared, and its value checked."""

from __future__ import annotations

from dataclasses import field, fields
from typing import Any

from screening.errors import CriteriaError

COMMON_PRACTICE = "common practice, no published source"


def threshold(
    default: Any,
    unit: str,
    meaning: str,
    source: str,
    *,
    low: float | None = None,
    high: float | None = None,
    words: tuple[str, ...] = (),
) -> Any:
    """Declare a threshold with its unit, its meaning, where it comes from, and its range or its words."""
    meta = {"unit": unit, "meaning": meaning, "source": source, "low": low, "high": high, "words": words}
    return field(default=default, metadata=meta)


def check_thresholds(group: Any) -> None:
    """Refuse a group in which a value is of the wrong kind, outside its range, or none of its words."""
    for spec in fields(group):
        value = getattr(group, spec.name)
        check_value(spec.name, value, spec.default, spec.metadata)
        if spec.metadata["words"]:
            check_word(spec.name, value, spec.metadata["words"])


def check_value(name: str, value: Any, default: Any, meta: Any) -> None:
    """Refuse a value of the wrong kind or outside its range."""
    kind = type(default)
    is_number = kind in (int, float) and isinstance(value, int | kind) and not isinstance(value, bool)
    if not (is_number or (kind is not int and isinstance(value, kind))):
        raise CriteriaError(
            f"{name} is of the wrong kind",
            got=f"{value!r} ({type(value).__name__})",
            expected=f"{kind.__name__}, such as {default!r}",
            mend="correct it in the criteria file",
        )
    low, high = meta["low"], meta["high"]
    if is_number and not (low if low is not None else -1e300) <= value <= (high if high is not None else 1e300):
        raise CriteriaError(
            f"{name} is outside its range",
            got=f"{value} {meta['unit']}".strip(),
            expected=f"{low} to {high} {meta['unit']}".strip(),
            mend="correct it in the criteria file",
        )


def check_word(name: str, value: str, words: tuple[str, ...]) -> None:
    """Refuse a word that is not one of the known."""
    if value not in words:
        raise CriteriaError(
            f"{name} is none of its words", got=repr(value), expected=", ".join(words), mend="use one of these words"
        )
