"""Where water can go by gravity: daylight, pipe routes, the ground at an outlet."""
