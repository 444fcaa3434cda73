"""Storage for the water of a storm: how much it holds, how long it takes to empty, what it takes to build."""

from __future__ import annotations

__all__ = [
    "caution_rules",
    "cautions",
    "chambers",
    "formulas",
    "gallery",
    "hyetographs",
    "inflow",
    "quantities",
    "ranges",
    "rates",
    "sections",
    "sizing",
    "unit_hydrograph",
    "verdicts",
]
"""Modules that other rooms may use; the rest is private to this one."""
