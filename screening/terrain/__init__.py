"""The surface that water runs over: elevation with structures, barriers, drains and breaches, and its error."""
