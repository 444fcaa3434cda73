"""The map: one page that works with no network."""
