"""Where water runs: filled surface, directions, contributing areas, paths, catchments, and questions to them."""
