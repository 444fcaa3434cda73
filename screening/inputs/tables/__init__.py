"""Rainfall tables, criteria files, and numbers as files write them.

Others use the modules of `__all__`; the rest is theirs alone.
"""

__all__ = ["criteria_file", "numbers", "rainfall"]
