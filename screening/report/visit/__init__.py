"""The sheet for the visit."""
