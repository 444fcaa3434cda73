"""Where water can go by gravity: daylight, pipe routes, the ground at an outlet."""

from __future__ import annotations

__all__ = [
    "daylight",
    "laid_channel",
    "outlet_ground",
    "pipe_routes",
]
"""Modules that other rooms may use; the rest is private to this one."""
