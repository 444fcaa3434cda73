"""Hydraulics of channels, grates and pipes: leaves that know nothing of grids, lots or files. SI throughout."""

from __future__ import annotations

__all__ = [
    "channel",
    "channel_capacity",
    "drain_check",
    "drain_site",
    "grates",
    "manning",
    "outlet",
    "ranges",
    "rows",
    "sections",
    "trench_drain",
]
"""Modules that other rooms may use; the rest is private to this one."""
