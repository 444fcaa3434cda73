"""Peaks in words: by which method, or why not."""

from __future__ import annotations

from screening.schema.codes.storm import PeakCode

_WHY = {
    PeakCode.NOTHING_ARRIVES: "no ground drains here",
    PeakCode.AREA_TOO_LARGE: "more than {:.0f} ha drain here: beyond the rational method",
    PeakCode.TIME_TOO_LONG: "the rainfall table ends at {:g} h",
}


def peak_why(code: str, limit: float) -> str:
    """Say why a peak is not assessed; empty where it is."""
    return _WHY.get(PeakCode(code), "").format(limit)


def peak_method(code: str, limit: float, *, nothing: str) -> str:
    """Say by which method a peak was found, or why it was not; `nothing` where nothing arrives."""
    if code == PeakCode.NOTHING_ARRIVES:
        return nothing
    why = peak_why(code, limit)
    return f"not assessed: {why}" if why else str(PeakCode(code))
