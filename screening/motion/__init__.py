"""Water in motion: a shallow-water simulation of a window, from the storm's runoff to what walls and doors meet."""
