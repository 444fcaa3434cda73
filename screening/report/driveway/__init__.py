"""Pages and tables of a driveway study."""
