"""How driveways shed their water: along, across, over which edge, to what."""

__all__ = ["share", "study"]
"""Modules that other rooms may use; the others are private to this one."""
