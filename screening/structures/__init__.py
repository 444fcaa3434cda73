"""What reaches the walls and doors of structures, side by side."""

__all__ = ["doors", "exposure", "fall_away", "wall_water", "walls", "wording"]
"""Modules that other rooms may use; the others are private to this one."""
