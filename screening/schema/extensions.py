"""What others add: columns, thresholds, checks, layers and kinds of improvement, declared in a package of their own.

A package names its `Extension` as an entry point of the group `screening.extensions` in its metadata; once it is
installed beside the toolkit, what it declares stands in every output.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.metadata import entry_points
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from screening.schema.columns import Column

GROUP = "screening.extensions"


@dataclass(frozen=True, kw_only=True)
class Extension:
    """What one package adds.

    Parameters
    ----------
    columns
        More columns by table, such as `summary`.
    criteria
        Groups of thresholds: frozen dataclasses whose fields are made by `criteria.threshold`.
    """

    columns: Mapping[str, tuple[Column, ...]] = field(default_factory=dict)
    criteria: tuple[Any, ...] = ()


@cache
def extensions() -> tuple[Extension, ...]:
    """Load the extensions that are installed, in the order of their names."""
    found = sorted(entry_points(group=GROUP), key=lambda point: point.name)
    return tuple(point.load() for point in found)
