"""Proposed works, and what they would change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from screening.models.findings import BlockResult
from screening.models.notes import Note

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd


@dataclass(frozen=True, kw_only=True, eq=False)
class Work:
    """One proposed work.

    Parameters
    ----------
    work_id
        Unique among the works.
    kind
        A key of `work_kinds.WORK_KINDS`.
    geometry
        Point, LineString or Polygon [m], in the CRS of the works.
    numbers
        SI values by `WorkNumber.key`, those that are given only.
    words
        Words that go with it, such as `to` or `structure_id`, those that are given only.
    """

    work_id: str
    kind: str
    geometry: Any
    numbers: Mapping[str, float] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "numbers", MappingProxyType(dict(self.numbers)))
        object.__setattr__(self, "words", MappingProxyType(dict(self.words)))

    @property
    def name(self) -> str:
        """Kind and id, in words."""
        return f"{self.kind.replace('_', ' ')} {self.work_id}"

    def number(self, key: str) -> float:
        """Give a number; NaN where it is not given."""
        return self.numbers.get(key, float("nan"))

    def word(self, key: str) -> str:
        """Give a word; empty where it is not given."""
        return self.words.get(key, "")

    def is_said(self, key: str) -> bool | None:
        """Give a yes or no; None where it is not given."""
        return None if key not in self.words else self.words[key] == "yes"


@dataclass(frozen=True, kw_only=True, eq=False)
class Works:
    """Works that are tried out together.

    Parameters
    ----------
    crs
        Of their geometries.
    items
        In the order of their file.
    notes
        What was assumed or converted when they were read.
    file
        Name of the file they were read from; empty if from none.
    """

    crs: str
    items: tuple[Work, ...]
    notes: tuple[Note, ...] = ()
    file: str = ""

    @property
    def title(self) -> str:
        """What a message calls them."""
        return f"works of {self.file}" if self.file else "works"

    def of_kind(self, *kinds: str) -> tuple[Work, ...]:
        """Give the works of some kinds."""
        return tuple(work for work in self.items if work.kind in kinds)

    def by_id(self, work_id: str) -> Work | None:
        """Find a work; None where there is none of that id."""
        return next((work for work in self.items if work.work_id == work_id), None)


@dataclass(frozen=True, kw_only=True, eq=False)
class Comparison:
    """What works change: before against after.

    Parameters
    ----------
    works
        One row a work, what it takes and moves: see `columns.WORK_COLUMNS`.
    table
        One row a number that is compared: see `columns.COMPARISON_COLUMNS`.
    lots
        Every lot in the window with the water that reaches it: see `columns.LOT_CHANGE_COLUMNS`.
    checks
        What the works ask of the ground and of the law: see `columns.WORK_CHECK_COLUMNS`.
    """

    works: gpd.GeoDataFrame
    table: pd.DataFrame
    lots: gpd.GeoDataFrame
    checks: pd.DataFrame


@dataclass(frozen=True, kw_only=True, eq=False)
class Trial:
    """A block before and after works, on one window."""

    before: BlockResult
    after: BlockResult
    works: Works
    comparison: Comparison
