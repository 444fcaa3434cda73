"""Lines across driveways where a drain would keep water from walls."""
