"""What a column is, and tables with exactly the columns that are declared."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd
    from pyproj import CRS

ColumnKind = Literal["text", "sentence", "code", "code number", "number", "count", "flag"]


@dataclass(frozen=True, kw_only=True)
class Column:
    """One output column; `unit` is the SI unit that ends its name, or empty.

    A `sentence` is made in `report.words` when a table is told to a reader, and stands in no table before. A `code` is
    the other way about: what sentences are made from, in the stage's table and left out of what is told.
    """

    name: str
    kind: ColumnKind
    unit: str
    label: str
    meaning: str

    @property
    def is_text(self) -> bool:
        """True for words, sentences and codes."""
        return self.kind in ("text", "sentence", "code")

    @property
    def is_code(self) -> bool:
        """True for what sentences are made from, numbers among them."""
        return self.kind in ("code", "code number")


def text(name: str, label: str, meaning: str) -> Column:
    """Declare a column of words."""
    return Column(name=name, kind="text", unit="", label=label, meaning=meaning)


def sentence(name: str, label: str, meaning: str) -> Column:
    """Declare a column of sentences."""
    return Column(name=name, kind="sentence", unit="", label=label, meaning=meaning)


def code(name: str, label: str, meaning: str) -> Column:
    """Declare a column of codes from which sentences are made, and that no reader is shown."""
    return Column(name=name, kind="code", unit="", label=label, meaning=meaning)


def code_number(name: str, label: str, meaning: str) -> Column:
    """Declare a column of numbers from which sentences are made, and that no reader is shown."""
    return Column(name=name, kind="code number", unit="", label=label, meaning=meaning)


def count(name: str, label: str, meaning: str) -> Column:
    """Declare a column of whole numbers."""
    return Column(name=name, kind="count", unit="", label=label, meaning=meaning)


def flag(name: str, label: str, meaning: str) -> Column:
    """Declare a column of yes or no."""
    return Column(name=name, kind="flag", unit="", label=label, meaning=meaning)


def number(name: str, unit: str, label: str, meaning: str) -> Column:
    """Declare a column of numbers in a unit."""
    return Column(name=name, kind="number", unit=unit, label=label, meaning=meaning)


DTYPES = {
    "text": "object",
    "sentence": "object",
    "code": "object",
    "code number": "float64",
    "number": "float64",
    "count": "int64",
    "flag": "bool",
}
"""What a stage's table keeps each kind as."""


def names(columns: tuple[Column, ...]) -> list[str]:
    """Names of columns, in their order."""
    return [column.name for column in columns]


def untold(columns: tuple[Column, ...]) -> tuple[Column, ...]:
    """Columns of a table before it is told to a reader: all but its sentences."""
    return tuple(column for column in columns if column.kind != "sentence")


AFTER_VERDICTS = frozenset(
    (
        "exposure_rank",
        "exposure_score",
        "ponding_frac",
        "run_on_frac",
        "chance_frac",
        "confidence_frac",
        "confidence",
        "confidence_code",
        "n_counted",
        "n_realisations",
    )
)
"""Columns that follow from verdicts and from elevation error: no stage has them."""


def before_verdicts(columns: tuple[Column, ...]) -> tuple[Column, ...]:
    """Columns of a table as its stage makes it: all but those that follow from verdicts."""
    return tuple(column for column in columns if column.name not in AFTER_VERDICTS)


def told(columns: tuple[Column, ...]) -> tuple[Column, ...]:
    """Columns of a table as a reader gets it: all but its codes."""
    return tuple(column for column in columns if not column.is_code)


@contextmanager
def plain_text_columns() -> Iterator[None]:
    """Keep text of the tables made meanwhile as Python's own, and not as Arrow's arrays.

    The tables are short, and read value by value and column by column, which takes Arrow longer than the rest.
    """
    import pandas as pd

    with pd.option_context("mode.string_storage", "python"):
        yield


def declared(data: Any, columns: tuple[Column, ...], *, geometry: Sequence[Any], crs: str | None) -> gpd.GeoDataFrame:
    """Make a table with exactly the declared columns, in their order and kinds, however few its rows are.

    Parameters
    ----------
    data
        What a DataFrame is made of: a list of rows, or columns by name; more than is declared is left out.
    columns
        The table's columns.
    geometry, crs
        One shape a row, and where they lie; no shapes need no CRS.

    Returns
    -------
    A GeoDataFrame; text is kept as objects, so that an empty table has the types of a full one.
    """
    import geopandas as gpd

    return gpd.GeoDataFrame(declared_plain(data, columns), geometry=list(geometry), crs=crs and _read_crs(crs))


@cache
def _read_crs(text: str) -> CRS:
    from pyproj import CRS

    return CRS.from_user_input(text)


def declared_plain(data: Any, columns: tuple[Column, ...]) -> pd.DataFrame:
    """Make a table as `declared` does, without shapes."""
    import pandas as pd

    columns = untold(columns)
    frame = pd.DataFrame(data, columns=names(columns))
    kinds = zip(columns, frame.dtypes, strict=True)
    return frame.astype({column.name: DTYPES[column.kind] for column, now in kinds if now != DTYPES[column.kind]})
