"""How far findings can be trusted: in what share of the realisations of elevation error each of them holds."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from screening.criteria import Criteria
from screening.elevation_error import vertical_rmse_m
from screening.models import (
    F64,
    I64,
    WITHIN_ERROR,
    Depressions,
    GroundFindings,
    Note,
    Realisation,
    Verdict,
    VerdictKey,
)

if TYPE_CHECKING:
    import geopandas as gpd

NOT_ASSESSED = "not assessed"

WATER_FOUND_MIN_FRAC = 0.5
"""A low spot is found again where low spots of a realisation cover ground that holds this share of its water."""


def low_spot_cells(depressions: Depressions) -> I64:
    """Cells at which a realisation is asked for its low spots: flat indices of those of all low spots, ascending."""
    return np.flatnonzero(depressions.label > 0)


def keep_findings(ground: GroundFindings, verdicts: Sequence[Verdict], *, cells: I64) -> Realisation:
    """Keep of one realisation what confidence needs.

    Parameters
    ----------
    ground, verdicts
        Found on the ground with one realisation of its error.
    cells
        `low_spot_cells` of what was found without error.
    """
    exposure = dict(zip(ground.structures["structure_id"], ground.structures["exposure"], strict=True))
    in_low_spot = ground.depressions.label.ravel()[cells] > 0
    return Realisation(in_low_spot, exposure, {_key(verdict): verdict.outcome for verdict in verdicts})


def assess_confidence(
    ground: GroundFindings, verdicts: Sequence[Verdict], realisations: Sequence[Realisation], *, criteria: Criteria
) -> tuple[GroundFindings, tuple[Verdict, ...], tuple[Note, ...]]:
    """Say of each finding in how many realisations of elevation error it holds.

    A low spot holds where it is found again: low spots of the realisation, deep and wide enough to report, cover
    ground that holds at least half of its water. So the deep part counts, not the shore, and it does no harm that
    pools join or part. A structure holds with the same exposure, a verdict and its driveway with the same outcome.
    What holds in fewer than `holds_min_frac` is within elevation error. What was not assessed on the ground as it is,
    or not made anew, is not assessed; an outcome that a realisation cannot assess does not hold.

    Parameters
    ----------
    ground, verdicts
        Found without error.
    realisations
        Of the same block; none = nothing is assessed.
    criteria
        `holds_min_frac`, and the error's own for the note.

    Returns
    -------
    The findings with `confidence_frac` and `confidence`, for structures also `ponding_frac` and `run_on_frac`; the
    verdicts with theirs; a note of the error that was taken.
    """
    depressions = dataclasses.replace(
        ground.depressions, table=_of_low_spots(ground.depressions, realisations, criteria)
    )
    structures = _of_structures(ground.structures, realisations, criteria)
    judged = tuple(_of_verdict(verdict, realisations, criteria) for verdict in verdicts)
    driveways = _of_driveways(ground.driveways, judged)
    ground = dataclasses.replace(ground, depressions=depressions, structures=structures, driveways=driveways)
    return ground, judged, (_note(len(realisations), criteria),) if realisations else ()


def _of_low_spots(
    depressions: Depressions, realisations: Sequence[Realisation], criteria: Criteria
) -> gpd.GeoDataFrame:
    cells, n_spots = low_spot_cells(depressions), len(depressions.table)
    spot = depressions.label.ravel()[cells] - 1
    # Walled courts have no depth: each of their cells counts alike.
    is_enclosed = depressions.table["is_enclosed"].to_numpy(bool)
    water = np.where(is_enclosed[spot], 1.0, depressions.depth_m.ravel()[cells])
    whole = np.bincount(spot, weights=water, minlength=n_spots)
    n_found = np.zeros(n_spots, np.int64)
    for realisation in realisations:
        covered = np.bincount(spot, weights=water * realisation.in_low_spot, minlength=n_spots)
        n_found += covered >= WATER_FOUND_MIN_FRAC * whole
    return _with_confidence(depressions.table, n_found.tolist(), len(realisations), criteria)


def _of_structures(
    structures: gpd.GeoDataFrame, realisations: Sequence[Realisation], criteria: Criteria
) -> gpd.GeoDataFrame:
    n_same: list[int | None] = []
    for structure_id, exposure in zip(structures["structure_id"], structures["exposure"], strict=True):
        found = [realisation.exposure[structure_id] for realisation in realisations]
        n_same.append(None if exposure == NOT_ASSESSED else found.count(exposure))
    shares = {
        name: np.array(
            [_failed_share(realisations, ("structure", own, statistic)) for own in structures["structure_id"]]
        )
        for name, statistic in (("ponding_frac", "pond_depth_full_m"), ("run_on_frac", "contributing_area_m2"))
    }
    return _with_confidence(structures.assign(**shares), n_same, len(realisations), criteria)


def _failed_share(realisations: Sequence[Realisation], key: VerdictKey) -> float:
    """Share of the realisations in which a check fails, among those that could make it."""
    outcomes = [realisation.outcome.get(key, NOT_ASSESSED) for realisation in realisations]
    n_known = len(outcomes) - outcomes.count(NOT_ASSESSED)
    return outcomes.count("failed") / n_known if n_known else float("nan")


def _of_verdict(verdict: Verdict, realisations: Sequence[Realisation], criteria: Criteria) -> Verdict:
    key = _key(verdict)
    was_made = verdict.outcome != NOT_ASSESSED and any(key in realisation.outcome for realisation in realisations)
    n_same = sum(realisation.outcome.get(key) == verdict.outcome for realisation in realisations) if was_made else None
    share, words = _judge(n_same, len(realisations), criteria)
    return dataclasses.replace(verdict, confidence_frac=share, confidence=words)


def _of_driveways(driveways: gpd.GeoDataFrame, judged: Sequence[Verdict]) -> gpd.GeoDataFrame:
    """A driveway's confidence is that of its verdict."""
    own = {verdict.subject_id: verdict for verdict in judged if verdict.statistic == "to_structure_frac"}
    verdicts = [own.get(driveway_id) for driveway_id in driveways["driveway_id"]]
    return driveways.assign(
        confidence_frac=np.array([v.confidence_frac if v else None for v in verdicts], np.float64),
        confidence=[v.confidence if v else NOT_ASSESSED for v in verdicts],
    )


def _with_confidence(
    table: gpd.GeoDataFrame, n_same: Sequence[int | None], n: int, criteria: Criteria
) -> gpd.GeoDataFrame:
    judged = [_judge(count, n, criteria) for count in n_same]
    shares: F64 = np.array([share for share, _ in judged], np.float64)
    return table.assign(confidence_frac=shares, confidence=np.array([words for _, words in judged], object))


def _judge(n_same: int | None, n: int, criteria: Criteria) -> tuple[float | None, str]:
    """Share and words of a finding that holds in `n_same` of `n` realisations; None = it cannot be said."""
    if n_same is None or n == 0:
        return None, NOT_ASSESSED
    if n_same / n >= criteria.holds_min_frac:
        return n_same / n, f"holds in {n_same} of {n}"
    return n_same / n, f"{WITHIN_ERROR} (holds in {n_same} of {n})"


def _key(verdict: Verdict) -> VerdictKey:
    return verdict.subject_kind, verdict.subject_id, verdict.statistic


def _note(n: int, criteria: Criteria) -> Note:
    source = "as stated" if criteria.elevation_rmse_m else f"of lidar quality level {criteria.lidar_quality_level}"
    text = (
        f"findings were made anew in {n} realisations of elevation error: RMSE {vertical_rmse_m(criteria):g} m "
        f"({source}), correlation length {criteria.error_correlation_m:g} m, {criteria.error_uncorrelated_frac:.0%} of "
        f"the variance uncorrelated, seed {criteria.error_seed}; infiltration was not"
    )
    return Note("assumed", "confidence", text)
