"""Where water runs: filled surface, directions, contributing areas, paths, catchments, and questions to them."""

__all__ = [
    "basins",
    "boundary_crossings",
    "boundary_inflow",
    "catchments",
    "dispersive",
    "paths",
    "places",
    "queries",
    "routing",
]
"""Modules that other rooms may use; the others are private to this one."""
