"""Ground that may take water, and the storage, the way there and the plan that a lot asks for."""
