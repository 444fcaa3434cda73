"""Compiled leaves: plain C-ordered arrays in, new arrays out, no checks, no imports but numpy and numba."""
