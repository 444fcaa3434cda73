"""The main finding of a lot in words; numbers stay in their columns, where their unit is known."""

from __future__ import annotations

from typing import TYPE_CHECKING

from screening.report.words.peaks import peak_method
from screening.schema.checks import checks_by_id
from screening.schema.codes.verdicts import DOUBTS_JOIN, Confidence, Doubt, MainFinding

if TYPE_CHECKING:
    from screening.report.words import Row, Teller

_DOUBT_WORDS = {Doubt.NOT_ASSESSED: "not assessed", Doubt.WITHIN_ERROR: str(Confidence.WITHIN_ERROR)}


def main_finding_words(row: Row) -> str:
    """Say what matters most on a lot, from the columns `main_code`, `main_check_id`, `main_subject_id`, `main_doubts`.

    Examples
    --------
    >>> row = {"main_code": "nothing", "main_check_id": "", "main_subject_id": "", "main_doubts": "not assessed"}
    >>> main_finding_words(row)
    'Nothing flagged; some checks not assessed'
    """
    code = MainFinding(row["main_code"])
    doubts = [_DOUBT_WORDS[Doubt(doubt)] for doubt in row["main_doubts"].split(DOUBTS_JOIN) if doubt]
    if code is MainFinding.NO_ELEVATION:
        return "Not assessed: no elevation on the lot"
    if code is MainFinding.NOTHING:
        return "Nothing flagged" + (f"; some checks {' or '.join(doubts)}" if doubts else "")
    doubt = "".join(f", {words}" for words in doubts)
    if code is MainFinding.LOW_SPOT:
        return f"A low spot holds water away from the walls{doubt}"
    check = checks_by_id()[row["main_check_id"]]
    walls_clear = check.finding_walls_clear if code is MainFinding.CHECK_WALLS_CLEAR else ""
    return (walls_clear or check.finding).format(subject_id=row["main_subject_id"]) + doubt


TELLERS: dict[tuple[str, str], Teller] = {
    ("summary", "main_finding"): lambda row, criteria, units: main_finding_words(row),
    ("summary", "peak_method"): lambda row, criteria, units: peak_method(
        row["peak_code"], row["peak_limit"], nothing="nothing arrives from outside"
    ),
}
