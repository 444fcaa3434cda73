"""Codes of low spots: where they overflow to, and how often the rain comes that fills them."""

from __future__ import annotations

from enum import StrEnum


class SpillsTo(StrEnum):
    """Where the overflow of a low spot goes, when that is no other low spot."""

    OUT_OF_WINDOW = "out of the window"


class Returns(StrEnum):
    """How often a rain comes, by the table of the storm."""

    WITHIN_TABLE = "within the table"
    MORE_OFTEN = "more often"
    """More often than the shortest return period of the table."""
    LESS_OFTEN = "less often"
    """Less often than the longest return period of the table."""
    NOT_KNOWN = "not known"
