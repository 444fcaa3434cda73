"""Rainfall tables, criteria files, and numbers as files write them."""
