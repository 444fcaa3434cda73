"""Proposed improvements put on the ground, screened before and after, and compared."""

from __future__ import annotations

__all__ = [
    "apply",
    "trial",
]
"""Modules that other rooms may use; the rest is private to this one."""
