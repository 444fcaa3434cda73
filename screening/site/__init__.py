"""One site: its window closed, its rain settled, screened and written with where it came from."""
