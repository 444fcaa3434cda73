"""Ground that may take water, and the storage, the pipe routes and the plan that a lot asks for."""

from __future__ import annotations

__all__ = [
    "lot_storage",
    "plan",
    "rejections",
    "zones",
]
"""Modules that other rooms may use; the rest is private to this one."""
