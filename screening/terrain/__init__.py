"""The surface that water overflows: elevation with structures, barriers, drains and breaches, and its error."""
