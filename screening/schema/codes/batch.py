"""Codes of a batch: what became of a lot, and why."""

from __future__ import annotations

from enum import StrEnum


class LotStatus(StrEnum):
    """What became of a lot."""

    ASSESSED = "assessed"
    NOT_ASSESSED = "not assessed"
    FAILED = "failed"


class LotProblem(StrEnum):
    """Why a lot has no findings, where that is not what reading or screening it says."""

    NO_ELEVATION = "no elevation on the lot"
    NOT_IN_WINDOW = "its window does not hold it"
