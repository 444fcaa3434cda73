"""What reaches the walls and doors of structures, side by side."""
