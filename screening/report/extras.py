"""Outputs that ask for an extra: whether it is installed, and what to say where it is not."""

from __future__ import annotations

import logging
from importlib.util import find_spec

_MODULES = {"pdf": "fpdf", "parquet": "pyarrow"}
"""Module that each extra brings."""
_log = logging.getLogger("screening")


def has_extra(extra: str, files: str) -> bool:
    """Say whether an extra is installed; where it is not, the log says which files are left out and how to get them.

    Parameters
    ----------
    extra
        Its name in `pyproject.toml`.
    files
        What is left out without it, in words.
    """
    if find_spec(_MODULES[extra]) is not None:
        return True
    _log.warning("Not written: %s (needs the extra %r: pip install 'screening[%s]')", files, extra, extra)
    return False
