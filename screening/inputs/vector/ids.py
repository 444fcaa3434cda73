"""Ids of features: text, unique, and the same whatever window is read."""

from __future__ import annotations

import functools
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from screening.errors import InputError
from screening.inputs.vector.features import feature_table
from screening.inputs.vector.layers import Layer


@dataclass(frozen=True)
class IdTable:
    """The ids of all features of a layer.

    Parameters
    ----------
    column
        Where they come from; empty = numbered by position.
    by_fid
        Unique id by feature number.
    given
        Id as the file has it by feature number; empty text where there is none.
    """

    column: str
    by_fid: dict[int, str]
    given: dict[int, str]

    @property
    def n_unnamed(self) -> int:
        """Features without an id, in a layer whose others have one."""
        return sum(not text for text in self.given.values()) if self.column else 0

    @property
    def repeated(self) -> tuple[str, ...]:
        """Ids that more than one feature has, in the order of the file."""
        seen: dict[str, int] = {}
        for text in self.given.values():
            seen[text] = seen.get(text, 0) + 1
        return tuple(text for text, number in seen.items() if text and number > 1)


def find_column(fields: Iterable[str], names: Sequence[str]) -> str:
    """Find the first of the usual names among columns, whatever its case; empty if none is there."""
    by_name: dict[str, str] = {}
    for field in fields:
        by_name.setdefault(field.lower(), field)
    return next((by_name[name] for name in names if name in by_name), "")


def named_column(layer: Layer, field: str, *, option: str) -> str:
    """Find the column that an option names.

    Raises
    ------
    InputError
        The layer has no such column.
    """
    found = find_column(layer.fields, (field.lower(),))
    if not found:
        raise InputError(
            f"The {layer.title} has no column {field!r}",
            got=field,
            expected=", ".join(layer.fields) or "no columns",
            mend=f"correct {option}",
        )
    return found


def text_of(value: Any) -> str:
    """Write an id as text: whole numbers without .0, blanks and nulls as empty text.

    Examples
    --------
    >>> text_of(12.0), text_of(" A-7 "), text_of(None), text_of(["A", 1])
    ('12', 'A-7', '', '[ "A", 1 ]')
    """
    if isinstance(value, np.ndarray):
        value = value.tolist()
    if isinstance(value, list):
        return f"[ {', '.join(json.dumps(part, ensure_ascii=False, default=str) for part in value)} ]"
    if value is None or value != value:
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    text = str(value).strip()
    return "" if text.lower() in ("none", "nan", "<na>", "nat", "null", "<null>") else text


def read_ids(layer: Layer, column: str, *, prefix: str) -> IdTable:
    """Give every feature of a layer a unique id.

    Parameters
    ----------
    layer, column
        Where ids stand; column empty = none: features are numbered by position.
    prefix
        Of ids by position.

    Returns
    -------
    Ids; a repeated one is followed by #2, #3, ..., a missing one becomes `unnamed-<n>`.
    """
    changed = layer.path.stat().st_mtime_ns if layer.path.exists() else 0
    return _read_ids(layer, column, prefix, changed)


@functools.lru_cache(maxsize=16)
def _read_ids(layer: Layer, column: str, prefix: str, changed: int) -> IdTable:
    # `changed` is part of the key only, so that a file rewritten is read again.
    table = feature_table(layer, [column] if column else [])
    fids = [int(fid) for fid in table.index]
    if not column:
        names = {fid: f"{prefix}{number}" for number, fid in enumerate(fids, start=1)}
        return IdTable("", names, dict.fromkeys(fids, ""))
    given = {fid: text_of(value) for fid, value in zip(fids, table[column].tolist(), strict=True)}
    return IdTable(column, unique_ids(given), given)


def unique_ids(given: dict[int, str]) -> dict[int, str]:
    """Make ids unique: #2, #3, ... after a repeated one, `unnamed-<n>` for an empty one."""
    taken = set(given.values())
    seen: dict[str, int] = {}
    out: dict[int, str] = {}
    n_unnamed = 0
    for fid, text in given.items():
        if not text:
            n_unnamed += 1
            while f"unnamed-{n_unnamed}" in taken:
                n_unnamed += 1
            text = f"unnamed-{n_unnamed}"
        seen[text] = seen.get(text, 0) + 1
        name = text if seen[text] == 1 else f"{text}#{seen[text]}"
        while name in taken and name != text:
            seen[text] += 1
            name = f"{text}#{seen[text]}"
        out[fid] = name
    return out


def part_id(feature_id: str, part: int) -> str:
    """Name a part of a feature that has several."""
    return f"{feature_id}-{part}" if part else feature_id
