"""Driveways in words: where they shed, what limits their numbers, how their peaks were found."""

from __future__ import annotations

from collections.abc import Sequence

from screening.models import ShedShare
from screening.report.words.rows import Row, Teller
from screening.schema.codes.driveways import ShapeLimit, ShedsTo
from screening.schema.codes.storm import PeakCode
from screening.schema.criteria import Criteria
from screening.units import UnitSystem

_SAID_FROM = 0.05
"""Shares below this are not told."""
_NAMES = {
    ShedsTo.STREET: "the street",
    ShedsTo.NEIGHBOUR: "a neighbour",
    ShedsTo.STREET_OR_NEIGHBOUR: "beyond the lot",
    ShedsTo.LOW_SPOT: "a low spot",
    ShedsTo.LAWN: "the lawn",
}
_LIMITS = {
    ShapeLimit.NOT_ASKED: "",
    ShapeLimit.NO_OPEN_GROUND: "under a structure, or no elevation on it",
    ShapeLimit.FEW_CELLS: "small: {:.0f} cells",
    ShapeLimit.NARROW: "narrow: {:.1f} cells wide, cross fall not assessed",
    ShapeLimit.BENT: "bent or of several arms: one long and one cross slope stand for all of it",
    ShapeLimit.PART_LEFT_OUT: "{:.0%} of it under a structure or without elevation is left out",
}
_PEAKS = {
    PeakCode.NOTHING_ARRIVES: "nothing arrives",
    PeakCode.RATIONAL: "rational method",
    PeakCode.GRAPHICAL: "graphical method",
    PeakCode.AREA_TOO_LARGE: "not assessed: more than {:.0f} ha drain here: beyond the rational method",
    PeakCode.TIME_TOO_LONG: "not assessed: the table ends at {:g} h",
}


def sheds_lines(shares: Sequence[ShedShare]) -> list[str]:
    """Say where the own rain of a driveway goes, then where its run-on goes, the largest shares first."""
    lines = []
    for what, is_own in (("Own rain", True), ("Run-on", False)):
        own = [share for share in shares if share.is_own is is_own]
        told = sorted((share for share in own if share.frac >= _SAID_FROM), key=lambda share: -share.frac)
        if own:
            lines.append(f"{what}: " + ", ".join(f"{share.frac:.0%} {_way_words(share)}" for share in told))
    return lines


def _way_words(share: ShedShare) -> str:
    if share.sheds_to is None:
        return "stays on it"
    return f"to {_NAMES.get(share.sheds_to, share.sheds_to.value)} {share.to_id}".rstrip()


def _sheds(row: Row, criteria: Criteria, units: UnitSystem) -> str:
    return ". ".join(sheds_lines(row["shed_shares"]))


def _shape_note(row: Row, criteria: Criteria, units: UnitSystem) -> str:
    return "; ".join(said for code, number in row["shape_limits"] if (said := _LIMITS[code].format(number)))


def _peak_method(row: Row, criteria: Criteria, units: UnitSystem) -> str:
    return _PEAKS[PeakCode(row["peak_code"])].format(row["peak_limit"])


TELLERS: dict[tuple[str, str], Teller] = {
    ("driveways", "sheds"): _sheds,
    ("driveways", "shape_note"): _shape_note,
    ("driveway_storms", "peak_method"): _peak_method,
}
"""What tells each sentence, by table and column."""
