"""State as codes: what a value may be, room by room. Sentences for readers are made of them in `report.words`."""
