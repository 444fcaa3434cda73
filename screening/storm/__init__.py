"""Rain and the water it makes: design storms, runoff by curve number, travel times, peak flows."""
