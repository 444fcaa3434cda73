"""Every sentence for a reader, made from codes and numbers: one module for each room whose findings it tells.

A column of kind `sentence` is in no table until it is told here: `with_sentences` adds it to a table on its way out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from screening.report.words import depressions, driveways, structures
from screening.report.words.rows import Row, Teller
from screening.schema.columns import TABLES
from screening.schema.criteria import Criteria
from screening.units import UnitSystem

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Row", "Teller", "tellers", "with_sentences"]


def tellers() -> dict[tuple[str, str], Teller]:
    """List what tells each sentence, by table and column."""
    from screening.report.words import notes

    return {**structures.TELLERS, **depressions.TELLERS, **driveways.TELLERS, **notes.TELLERS}


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
