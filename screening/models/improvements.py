"""Proposed improvements, and what they would change."""

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
class Improvement:
    """One proposed work.

    Parameters
    ----------
    improvement_id
        Unique among the improvements.
    kind
        A key of `work_kinds.all_kinds`.
    geometry
        Point, LineString or Polygon [m], in the CRS of the improvements.
    numbers
        SI values by `ImprovementNumber.key`, those that are given only.
    words
        Words that go with it, such as `to` or `structure_id`, those that are given only.
    """

    improvement_id: str
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
        return f"{self.kind.replace('_', ' ')} {self.improvement_id}"

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
class Improvements:
    """Improvements that are tried out together.

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
    items: tuple[Improvement, ...]
    notes: tuple[Note, ...] = ()
    file: str = ""

    @property
    def title(self) -> str:
        """What a message calls them."""
        return f"improvements of {self.file}" if self.file else "improvements"

    def of_kind(self, *kinds: str) -> tuple[Improvement, ...]:
        """Give the improvements of some kinds."""
        return tuple(improvement for improvement in self.items if improvement.kind in kinds)

    def by_id(self, improvement_id: str) -> Improvement | None:
        """Find an improvement; None where there is none of that id."""
        return next((improvement for improvement in self.items if improvement.improvement_id == improvement_id), None)


@dataclass(frozen=True, kw_only=True, eq=False)
class Comparison:
    """What improvements change: before against after.

    Parameters
    ----------
    improvements
        One row an improvement, what it takes and moves: see `columns.IMPROVEMENT_COLUMNS`.
    table
        One row a number that is compared: see `columns.COMPARISON_COLUMNS`.
    lots
        Every lot in the window with the water that reaches it: see `columns.LOT_CHANGE_COLUMNS`.
    checks
        What the improvements ask of the ground and of the law: see `columns.IMPROVEMENT_CHECK_COLUMNS`.
    """

    improvements: gpd.GeoDataFrame
    table: pd.DataFrame
    lots: gpd.GeoDataFrame
    checks: pd.DataFrame


@dataclass(frozen=True, kw_only=True, eq=False)
class Trial:
    """A block before and after improvements, on one window."""

    before: BlockResult
    after: BlockResult
    improvements: Improvements
    comparison: Comparison
