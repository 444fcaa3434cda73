"""Pages and tables of a trial of improvements."""
