"""Lots and layers as clean geometries in one CRS, with their numbers in SI."""
