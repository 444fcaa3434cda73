"""What a sentence is made from, and what makes it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeAlias

from screening.schema.criteria import Criteria
from screening.units import UnitSystem

Row: TypeAlias = Mapping[str, Any]
"""A row of a table, by column."""
Teller: TypeAlias = Callable[[Row, Criteria, UnitSystem], str]
"""Makes the sentence of one row, in the units of the reader."""
