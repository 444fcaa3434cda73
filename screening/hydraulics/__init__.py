"""Hydraulics of channels, grates and pipes: leaves that know nothing of grids, lots or files. SI throughout."""
