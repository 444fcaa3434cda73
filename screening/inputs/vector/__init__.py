"""Lots, layers and improvements: clean geometries in one CRS, with ids that are unique and numbers in SI.

Others use the modules of `__all__`; the rest is theirs alone.
"""

__all__ = [
    "barriers",
    "context",
    "doors",
    "drains",
    "geometries",
    "ids",
    "impervious",
    "improvements",
    "layers",
    "levels",
    "lot_ids",
    "lots",
    "roster",
    "soils",
]
