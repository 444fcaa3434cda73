"""The error tree: every message says what is wrong, what was met, and how to mend it."""

from __future__ import annotations


class ScreeningError(Exception):
    """Anything the toolkit refuses to do; the command line turns it into exit code 2."""

    def __init__(self, what: str, *, got: str = "", expected: str = "", mend: str = "") -> None:
        self.what, self.got, self.expected, self.mend = what, got, expected, mend
        parts = [what.rstrip(".") + "."]
        if got:
            parts.append(f"Got: {got}.")
        if expected:
            parts.append(f"Expected: {expected}.")
        if mend:
            parts.append(f"To mend it: {mend}.")
        super().__init__(" ".join(parts))


class InputError(ScreeningError):
    """A file, layer or option that cannot be used as it is."""


class CriteriaError(ScreeningError):
    """A threshold that is unknown, of the wrong kind or outside its range."""


class GridMismatchError(ScreeningError):
    """Two values that should lie on the same grid do not."""


class OutputError(ScreeningError):
    """An output that cannot be written."""
