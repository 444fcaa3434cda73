"""Elevation and land cover as rasters, in metres on one grid."""
