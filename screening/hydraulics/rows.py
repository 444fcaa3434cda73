"""Rows that say what was compared with what, of improvements that belong to no lot yet."""

from __future__ import annotations

import operator as operators
from dataclasses import dataclass
from typing import Literal

Operator = Literal["<=", ">=", "<", "=="]

_HOLDS = {"<=": operators.le, ">=": operators.ge, "<": operators.lt, "==": operators.eq}


@dataclass(frozen=True, kw_only=True)
class CheckRow:
    """One check of one improvement: statistic, operator, threshold; its outcome follows from them.

    Parameters
    ----------
    check
        What is asked, in words that hold when it passes.
    statistic
        Name of the value, with its unit at the end.
    value
        The value; None where it is not known.
    operator, threshold, unit
        What it is compared with, both in one SI unit.
    source
        Where the threshold, or the law behind the value, comes from.
    note
        What a reader must know besides.
    is_lower_bound
        The true value may be larger: it can fail an upper limit but not pass it, and pass a lower one but not fail.
    """

    check: str
    statistic: str
    value: float | None
    operator: Operator
    threshold: float
    unit: str
    source: str
    note: str = ""
    is_lower_bound: bool = False

    @property
    def outcome(self) -> Literal["passed", "failed", "not assessed"]:
        """Outcome of the comparison; unknown is never a pass."""
        if self.value is None or self.value != self.value or self.threshold != self.threshold:
            return "not assessed"
        holds = bool(_HOLDS[self.operator](self.value, self.threshold))
        if self.is_lower_bound and holds != (self.operator == ">="):
            return "not assessed"
        return "passed" if holds else "failed"
