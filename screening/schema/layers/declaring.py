"""What a result layer is: its rows, its table, and how map and GeoPackage draw it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from typing import Any, Literal, TypeAlias

from screening.schema.columns.kinds import Column
from screening.schema.columns.tables import TABLES
from screening.schema.criteria import Criteria
from screening.schema.extensions import added_columns
from screening.schema.styles import LegendKey, Style
from screening.units import UnitSystem

Row: TypeAlias = Mapping[str, Any]
Geometry = Literal["", "Point", "MultiLineString", "MultiPolygon"]


class LayerGroup(StrEnum):
    """Headings of the map's switches, in their order."""

    BUILDINGS = "Buildings and driveways"
    WATER = "Water"
    REMEDIES = "Where water could be caught, and go"
    GROUND = "Lots and ground"


@dataclass(frozen=True, kw_only=True)
class Reader:
    """Who a layer is drawn for.

    Parameters
    ----------
    criteria
        Of the result.
    units
        What numbers are told in.
    classes_in
        Units in which the limits of classes are round.
    """

    criteria: Criteria
    units: UnitSystem
    classes_in: UnitSystem


Legend: TypeAlias = Callable[[Reader], tuple[LegendKey, ...]]
ClassOf: TypeAlias = Callable[[Row, Reader], str]


@dataclass(frozen=True, kw_only=True)
class ResultLayer:
    """One layer of a result.

    Parameters
    ----------
    key
        Its name in the page's data, and of its table where `table` is empty.
    label, noun
        On its switch, and before the id of one feature.
    group
        Heading that its switch stands under.
    rows
        Gives its rows and shapes from a `BlockResult`.
    table
        Key of `columns.TABLES` whose columns it has; empty for a layer with columns of its own.
    own_columns
        Its columns where it has no such table; with them it is a table of its own, unless it `is_context`.
    id_column
        Column of the ids; empty = none.
    lead_column
        Column of the sentence that the details begin with; empty = none.
    geometry
        Of the GeoPackage layer; empty = none there.
    styles, legend, class_of
        By class of feature; as readers see them; and the class of a row. Without the last two, all rows are of the
        first class, named by the label.
    gis_style, gis_class_column
        In the GeoPackage: the style of all features, or the column whose values are the classes; the first class's
        style without either.
    is_on, is_drawn
        Its switch at first, and whether the map has it.
    is_from_raster
        Outlines follow cells and may be smoothed by half a cell.
    lies_on_lot, stands_at_structure
        The map links it with the lot, or with the structure, that its rows name.
    arrow_length_m
        Points are drawn as arrows that point to `direction_deg`, so long.
    is_context
        Drawn as it was given: no table of the result.
    has_csv, is_in_document
        Whether a CSV file and `result.json` hold its table.
    """

    key: str
    label: str
    noun: str
    group: LayerGroup
    rows: Callable[[Any], Any]
    styles: Mapping[str, Style]
    table: str = ""
    own_columns: tuple[Column, ...] = ()
    id_column: str = ""
    lead_column: str = ""
    geometry: Geometry = ""
    legend: Legend | None = None
    class_of: ClassOf | None = None
    gis_style: Style | None = None
    gis_class_column: str = ""
    is_on: bool = True
    is_drawn: bool = True
    is_from_raster: bool = False
    lies_on_lot: bool = False
    stands_at_structure: bool = False
    arrow_length_m: Callable[[Criteria], float] | None = None
    is_context: bool = False
    has_csv: bool = False
    is_in_document: bool = True

    @property
    def table_name(self) -> str:
        """Key of its table in `all_tables`; empty where it is drawn as it was given."""
        return "" if self.is_context else self.table or self.key

    @property
    def columns(self) -> tuple[Column, ...]:
        """What the details show."""
        if not self.table:
            return self.own_columns
        return (*TABLES[self.table], *(added.column for added in added_columns(self.table)))

    def class_of_row(self, row: Row, reader: Reader) -> str:
        """Class of a row."""
        return next(iter(self.styles)) if self.class_of is None else self.class_of(row, reader)

    def legend_for(self, reader: Reader) -> tuple[LegendKey, ...]:
        """Lines of the legend."""
        return (
            (LegendKey(next(iter(self.styles.values())), self.label),) if self.legend is None else self.legend(reader)
        )


def one_line(text: str, style: Style) -> Legend:
    """A legend of one line."""
    return lambda reader: (LegendKey(style, text),)


def named(texts: Mapping[str, str], styles: Mapping[str, Style]) -> Legend:
    """A legend with a line for each class that has a text, in the order of the texts."""
    return lambda reader: tuple(LegendKey(styles[name], text) for name, text in texts.items())


def class_in(column: str, styles: Mapping[str, Style]) -> ClassOf:
    """Classes by the values of a column; what is none of them is of the last, the one that claims least."""
    return partial(_class_in, column, styles)


def _class_in(column: str, styles: Mapping[str, Style], row: Row, reader: Reader) -> str:
    value = str(row[column])
    return value if value in styles else list(styles)[-1]
