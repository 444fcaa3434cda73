"""Every sentence for a reader, made from codes and numbers: one module for each room whose findings it tells.

A column of kind `sentence` is in no table until it is told here: `with_sentences` adds it to a table on its way out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeAlias

from screening.schema.columns import TABLES
from screening.schema.criteria import Criteria
from screening.units import UnitSystem

if TYPE_CHECKING:
    import pandas as pd

Row: TypeAlias = Mapping[str, Any]
Teller: TypeAlias = Callable[[Row, Criteria, UnitSystem], str]
"""Makes the sentence of one row, in the units of the reader."""


def tellers() -> dict[tuple[str, str], Teller]:
    """List what tells each sentence, by table and column."""
    from screening.report.words import notes

    return {**notes.TELLERS}


def with_sentences(name: str, frame: pd.DataFrame, criteria: Criteria, units: UnitSystem = "metric") -> pd.DataFrame:
    """Add the sentences of a table, in the units of the reader.

    Parameters
    ----------
    name
        Key of `columns.TABLES`.
    frame
        Its rows, with all columns that are no sentences.
    criteria
        Every threshold.
    units
        What numbers in sentences are told in.

    Returns
    -------
    A table with the sentences too; the one given is left as it was.
    """
    telling = tellers()
    fields = [column.name for column in TABLES[name] if column.kind == "sentence"]
    if not fields:
        return frame
    rows: list[dict[str, Any]] = frame.to_dict("records")  # type: ignore[assignment]
    return frame.assign(**{field: [telling[name, field](row, criteria, units) for row in rows] for field in fields})
