"""Every sentence for a reader, made from codes and numbers: one module for each room whose findings it tells.

A column of kind `sentence` is in no table until it is told here: `with_sentences` adds it to a table on its way out.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib import import_module
from pkgutil import iter_modules
from typing import TYPE_CHECKING, Any

from screening.report.words.rows import Row, Teller
from screening.schema.columns import IMPROVEMENT_TABLES
from screening.schema.criteria import Criteria
from screening.schema.extensions import added_columns
from screening.schema.layers import all_tables
from screening.units import UnitSystem

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

    from screening.models import BlockResult

__all__ = ["Row", "Teller", "lots_told", "tellers", "with_sentences"]


@cache
def tellers() -> Mapping[tuple[str, str], Teller]:
    """List what tells each sentence, by table and column: the `TELLERS` of every module of this package."""
    found: dict[tuple[str, str], Teller] = {}
    for module in iter_modules(__path__):
        found |= getattr(import_module(f"{__name__}.{module.name}"), "TELLERS", {})
    return found


def with_sentences(name: str, frame: pd.DataFrame, criteria: Criteria, units: UnitSystem = "metric") -> pd.DataFrame:
    """Add the sentences of a table, in the units of the reader, and the columns that extensions make of its rows.

    Parameters
    ----------
    name
        Key of `layers.all_tables` or of `columns.IMPROVEMENT_TABLES`.
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
    columns = IMPROVEMENT_TABLES[name] if name in IMPROVEMENT_TABLES else all_tables()[name]
    fields = [column.name for column in columns if column.kind == "sentence"]
    added = added_columns(name)
    if not fields and not added:
        return frame
    rows: list[dict[str, Any]] = frame.to_dict("records")  # type: ignore[assignment]
    made = {field: [telling[name, field](row, criteria, units) for row in rows] for field in fields}
    return frame.assign(**made, **{each.column.name: [each.value(row, criteria) for row in rows] for each in added})


def lots_told(result: BlockResult, units: UnitSystem = "metric") -> gpd.GeoDataFrame:
    """Give the lots of a result as a reader gets them: with the main finding in words, and without its codes."""
    told = with_sentences("summary", result.summary, result.criteria, units)
    lots: gpd.GeoDataFrame = told[[*(column.name for column in all_tables()["summary"]), "geometry"]]
    return lots
