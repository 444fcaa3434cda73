"""Where water stands: low spots, how they nest and spill, what a storm leaves in them."""
