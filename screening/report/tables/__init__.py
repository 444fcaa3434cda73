"""Tables, layers and rasters as files."""
