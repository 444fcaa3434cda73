"""Rows that say what was compared with what, of improvements that belong to no lot yet."""

from __future__ import annotations

import operator as operators
from dataclasses import dataclass
from typing import TypeAlias

from screening.schema.codes.hydraulics import CheckReason
from screening.schema.codes.verdicts import Operator, Outcome

Facts: TypeAlias = tuple[tuple[str, float | str], ...]
"""Numbers and names by name."""

_HOLDS = {
    Operator.AT_MOST: operators.le,
    Operator.AT_LEAST: operators.ge,
    Operator.BELOW: operators.lt,
    Operator.EQUAL: operators.eq,
}


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
    reasons, facts
        What a reader must know besides, as codes, and the numbers and names that its words need: see `CheckReason`.
    is_owed
        It rests on what was not measured: it can fail, but not pass.
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
    reasons: tuple[CheckReason, ...] = ()
    facts: Facts = ()
    is_owed: bool = False
    is_lower_bound: bool = False

    @property
    def outcome(self) -> Outcome:
        """Outcome of the comparison; unknown is never a pass."""
        if self.value is None or self.value != self.value or self.threshold != self.threshold:
            return Outcome.NOT_ASSESSED
        holds = bool(_HOLDS[self.operator](self.value, self.threshold))
        if self.is_lower_bound and holds != (self.operator == Operator.AT_LEAST):
            return Outcome.NOT_ASSESSED
        if holds and self.is_owed:
            return Outcome.NOT_ASSESSED
        return Outcome.PASSED if holds else Outcome.FAILED
