"""The finding of a lot that matters most: that of its weightiest failed check, as codes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from screening.models import Verdict
from screening.schema.checks import checks_by_id
from screening.schema.codes.verdicts import DOUBTS_JOIN, Aspect, Doubt, MainFinding, Outcome, SubjectKind


@dataclass(frozen=True, kw_only=True)
class LotState:
    """What the main finding depends on besides the verdicts of the lot.

    Parameters
    ----------
    has_elevation
        Some of its ground is known.
    n_low_spots
        Outermost low spots on it.
    low_spots_within_error
        All of them may be no more than the error of the elevation.
    structure_rank
        Rank of each structure by its exposure, by id.
    """

    has_elevation: bool
    n_low_spots: int
    low_spots_within_error: bool
    structure_rank: Mapping[str, int]


def find_main(verdicts: Sequence[Verdict], state: LotState) -> dict[str, str]:
    """Find what matters most on a lot.

    Of the failed checks for a problem that with the most points; of equal points the first in the order of the checks,
    then the most exposed structure. Where none failed, a low spot away from the walls.

    Parameters
    ----------
    verdicts
        Of the lot.
    state
        What else is known of it.

    Returns
    -------
    The columns `main_code`, `main_check_id`, `main_subject_id`, `main_doubts` of the summary.
    """
    if not state.has_elevation:
        return _row(MainFinding.NO_ELEVATION)
    flags = [verdict for verdict in verdicts if verdict.is_flag]
    if flags:
        main = min(flags, key=lambda verdict: _place(verdict, state.structure_rank))
        is_clear = main.subject_kind is SubjectKind.LOT and all(f.subject_kind is SubjectKind.LOT for f in flags)
        code = MainFinding.CHECK_WALLS_CLEAR if is_clear else MainFinding.CHECK
        return _row(code, *([Doubt.WITHIN_ERROR] if main.is_within_error else []), main=main)
    if state.n_low_spots:
        return _row(MainFinding.LOW_SPOT, *([Doubt.WITHIN_ERROR] if state.low_spots_within_error else []))
    doubts = [Doubt.NOT_ASSESSED] if any(verdict.outcome is Outcome.NOT_ASSESSED for verdict in verdicts) else []
    is_unsure = any(verdict.is_within_error for verdict in verdicts if verdict.aspect is Aspect.PROBLEM)
    return _row(MainFinding.NOTHING, *doubts, *([Doubt.WITHIN_ERROR] if is_unsure else []))


def _place(verdict: Verdict, structure_rank: Mapping[str, int]) -> tuple[float, int, int]:
    return -verdict.points, checks_by_id()[verdict.check_id].order, structure_rank.get(verdict.subject_id, 0)


def _row(code: MainFinding, *doubts: Doubt, main: Verdict | None = None) -> dict[str, str]:
    return {
        "main_code": str(code),
        "main_check_id": "" if main is None else main.check_id,
        "main_subject_id": "" if main is None else main.subject_id,
        "main_doubts": DOUBTS_JOIN.join(doubts),
    }
