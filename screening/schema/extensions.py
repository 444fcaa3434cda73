"""What others add: columns, thresholds, checks, layers and kinds of improvement, declared in a package of their own.

A package names its `Extension` as an entry point of the group `screening.extensions` in its metadata; once it is
installed beside the toolkit, what it declares stands in every output.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.metadata import entry_points
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from screening.schema.checks import Check
    from screening.schema.columns import Column
    from screening.schema.layers import ResultLayer
    from screening.schema.work_kinds import ImprovementKind

GROUP = "screening.extensions"


@dataclass(frozen=True, kw_only=True)
class AddedColumn:
    """A column more of a table, with what makes its value of the row's others and the criteria."""

    column: Column
    value: Callable[[Mapping[str, Any], Any], Any]


@dataclass(frozen=True, kw_only=True)
class Extension:
    """What one package adds.

    Parameters
    ----------
    columns
        More columns by table, such as `summary`, each made from the row it stands in.
    criteria
        Groups of thresholds: frozen dataclasses whose fields are made by `criteria.threshold`.
    checks
        Checks of lots, structures and driveways.
    layers
        Result layers: each is a table, a layer of the GeoPackage and one of the map.
    kinds
        Kinds of proposed improvement.
    """

    columns: Mapping[str, tuple[AddedColumn, ...]] = field(default_factory=dict)
    criteria: tuple[Any, ...] = ()
    checks: tuple[Check, ...] = ()
    layers: tuple[ResultLayer, ...] = ()
    kinds: tuple[ImprovementKind, ...] = ()


@cache
def extensions() -> tuple[Extension, ...]:
    """Load the extensions that are installed, in the order of their names."""
    found = sorted(entry_points(group=GROUP), key=lambda point: point.name)
    return tuple(point.load() for point in found)


@cache
def added_columns(table: str) -> tuple[AddedColumn, ...]:
    """List the columns that extensions add to a table."""
    return tuple(added for extension in extensions() for added in extension.columns.get(table, ()))
