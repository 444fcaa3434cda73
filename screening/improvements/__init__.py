"""Proposed improvements put on the ground, screened before and after, and compared."""
