"""Lines across driveways where a drain would keep water from walls."""

from __future__ import annotations

__all__ = [
    "find",
]
"""Modules that other rooms may use; the rest is private to this one."""
