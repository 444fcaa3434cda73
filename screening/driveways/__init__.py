"""How driveways shed their water: along, across, over which edge, to what."""
