"""Where water stands: low spots, how they nest and spill, what a storm leaves in them."""

__all__ = ["assess", "find", "hierarchy", "ponding", "spill_basins", "threshold_rainfall"]
"""Modules that other rooms may use; the others are private to this one."""
