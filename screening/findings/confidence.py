"""How far findings can be trusted: in what share of the realisations of elevation error each of them holds."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from screening.models import (
    F64,
    I64,
    WITHIN_ERROR,
    Bool,
    Depressions,
    GroundFindings,
    LowSpots,
    Note,
    Realisation,
    Verdict,
    VerdictKey,
    note,
)
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from screening.schema.criteria import Criteria
from screening.terrain.elevation_error import vertical_rmse_m

if TYPE_CHECKING:
    import geopandas as gpd

NOT_ASSESSED = "not assessed"

WATER_FOUND_MIN_FRAC = 0.5
"""A low spot is found again where low spots of a realisation cover ground that holds this share of its water."""

_POND_DEPTH, _AREA, _SHARE = "pond_depth_full_m", "contributing_area_m2", "to_structure_frac"


def low_spot_cells(low_spots: LowSpots | Depressions) -> I64:
    """Cells at which a realisation is asked for its low spots: flat indices of those of all low spots, ascending."""
    return np.flatnonzero(low_spots.label > 0)


def assess_confidence(
    ground: GroundFindings, verdicts: Sequence[Verdict], realisations: Sequence[Realisation], *, criteria: Criteria
) -> tuple[GroundFindings, tuple[Verdict, ...], tuple[Note, ...]]:
    """Say of each finding in how many realisations of elevation error it holds.

    A low spot holds where it is found again: low spots of the realisation, deep and wide enough to report, cover
    ground that holds at least half of its water. So the deep part counts, not the shore, and it does no harm that
    pools join or part. A structure holds with the same exposure, a verdict and its driveway with the same outcome.
    What holds in fewer than `holds_min_frac` is within elevation error.

    Elevation that was measured has its error in it already, and a low spot that this error made may well outlast more
    of it. So a low spot, and the ponding at a wall that stands on it, is within elevation error too where the error
    alone makes one as deep at its place, on ground where it is filled, in more than `chance_max_frac`.

    What was not assessed on the ground as it is, or not simulated, is not assessed; an outcome that a realisation
    cannot assess does not hold.

    Parameters
    ----------
    ground, verdicts
        Found without error.
    realisations
        Of the same block; none = nothing is assessed.
    criteria
        `holds_min_frac`, `chance_max_frac`, and the error's own for the note.

    Returns
    -------
    The findings with `confidence_frac` and `confidence`, for low spots also `chance_frac`, for structures also
    `ponding_frac` and `run_on_frac`; the verdicts with theirs; a note of the error that was taken.
    """
    low_spots = _of_low_spots(ground.depressions, realisations, criteria)
    by_chance = _ponding_by_chance(ground.exposure.structures, low_spots, criteria)
    structures = _of_structures(ground.exposure.structures, realisations, by_chance, criteria)
    judged = tuple(_of_verdict(verdict, realisations, by_chance, criteria) for verdict in verdicts)
    doubted = dataclasses.replace(
        ground,
        depressions=dataclasses.replace(ground.depressions, table=low_spots),
        exposure=dataclasses.replace(ground.exposure, structures=structures),
        driveways=_of_driveways(ground.driveways, judged),
    )
    return doubted, judged, (_note(len(realisations), criteria),) if realisations else ()


def _of_low_spots(
    depressions: Depressions, realisations: Sequence[Realisation], criteria: Criteria
) -> gpd.GeoDataFrame:
    n_spots, n = len(depressions.table), len(realisations)
    is_enclosed = depressions.table["is_enclosed"].to_numpy(bool)
    n_found, n_chance = _count_found(depressions, realisations) if n else np.zeros((2, n_spots), np.int64)
    share = n_chance / n if n else np.full(n_spots, np.nan)
    table = depressions.table.assign(chance_frac=np.where(is_enclosed, np.nan, share))
    counts = zip(n_found.tolist(), n_chance.tolist(), strict=True)
    judged = [_judge(found, n, criteria, n_chance=chance) for found, chance in counts]
    return _with_confidence(table, judged)


def _count_found(depressions: Depressions, realisations: Sequence[Realisation]) -> tuple[I64, I64]:
    """Count for each low spot the realisations that find its water, and those where error alone is as deep."""
    zones, outermost = depressions.zones, depressions.zones.outermost
    place = np.searchsorted(low_spot_cells(depressions), zones.cells)
    # Enclosed courtyards have no depth: each of their cells counts alike, and nothing is as deep as they are.
    is_enclosed = depressions.table["is_enclosed"].to_numpy(bool)
    depth = np.where(is_enclosed, np.inf, depressions.table["depth_max_m"].to_numpy(float)).astype(np.float32)
    in_courtyard = is_enclosed[outermost]
    full = np.where(in_courtyard[zones.innermost], 1.0, depressions.depth_m.ravel()[zones.cells])
    # A part holds the water below its own level.
    above = np.where(in_courtyard, 0.0, depressions.level_m[outermost] - depressions.level_m)

    def water(is_counted: Bool) -> F64:
        held: F64 = zones.total(full * is_counted) - above * zones.total(is_counted.astype(np.float64))
        return held

    whole = water(np.ones(place.size, np.bool_))
    n_found, n_chance = np.zeros((2, whole.size), np.int64)
    for realisation in realisations:
        n_found += water(realisation.in_low_spot[place]) >= WATER_FOUND_MIN_FRAC * whole
        n_chance += zones.largest(realisation.chance_depth_m[place]) >= depth
    return n_found, n_chance


def _ponding_by_chance(
    structures: gpd.GeoDataFrame, low_spots: gpd.GeoDataFrame, criteria: Criteria
) -> Mapping[str, str]:
    """Confidence of the low spot at the wall, for structures whose low spot the error alone may have made."""
    is_chance = low_spots["chance_frac"] > criteria.findings.chance_max_frac
    words = dict(zip(low_spots["low_spot_id"][is_chance], low_spots["confidence"][is_chance], strict=True))
    pairs = zip(structures["structure_id"], structures["low_spot_id"], strict=True)
    return {structure_id: words[spot_id] for structure_id, spot_id in pairs if spot_id in words}


def _of_structures(
    structures: gpd.GeoDataFrame,
    realisations: Sequence[Realisation],
    by_chance: Mapping[str, str],
    criteria: Criteria,
) -> gpd.GeoDataFrame:
    ids, judged = structures["structure_id"], []
    for structure_id, exposure in zip(ids, structures["exposure"], strict=True):
        found = [realisation.exposure[structure_id] for realisation in realisations]
        n_same = None if exposure == NOT_ASSESSED else found.count(exposure)
        share, words = _judge(n_same, len(realisations), criteria)
        judged.append((share, by_chance.get(structure_id, words) if exposure == "ponding" else words))
    shares = {
        name: np.array([_failed_share(realisations, ("structure", own, statistic)) for own in ids])
        for name, statistic in (("ponding_frac", _POND_DEPTH), ("run_on_frac", _AREA))
    }
    return _with_confidence(structures.assign(**shares), judged)


def _failed_share(realisations: Sequence[Realisation], key: VerdictKey) -> float:
    """Share of the realisations in which a check fails, among those that could make it."""
    outcomes = [realisation.outcome.get(key, NOT_ASSESSED) for realisation in realisations]
    n_known = len(outcomes) - outcomes.count(NOT_ASSESSED)
    return outcomes.count("failed") / n_known if n_known else float("nan")


def _of_verdict(
    verdict: Verdict, realisations: Sequence[Realisation], by_chance: Mapping[str, str], criteria: Criteria
) -> Verdict:
    key = key_of(verdict)
    was_made = verdict.outcome != NOT_ASSESSED and any(key in realisation.outcome for realisation in realisations)
    n_same = sum(realisation.outcome.get(key) == verdict.outcome for realisation in realisations) if was_made else None
    share, words = _judge(n_same, len(realisations), criteria)
    if verdict.statistic == _POND_DEPTH and verdict.outcome == "failed":
        words = by_chance.get(verdict.subject_id, words)
    return dataclasses.replace(verdict, confidence_frac=share, confidence=words)


def _of_driveways(driveways: gpd.GeoDataFrame, judged: Sequence[Verdict]) -> gpd.GeoDataFrame:
    """A driveway's confidence is that of its verdict."""
    own = {verdict.subject_id: verdict for verdict in judged if verdict.statistic == _SHARE}
    verdicts = [own.get(driveway_id) for driveway_id in driveways["driveway_id"]]
    return _with_confidence(
        driveways, [(v.confidence_frac, v.confidence) if v else (None, NOT_ASSESSED) for v in verdicts]
    )


def _with_confidence(table: gpd.GeoDataFrame, judged: Sequence[tuple[float | None, str]]) -> gpd.GeoDataFrame:
    shares: F64 = np.array([share for share, _ in judged], np.float64)
    texts = pd.Series([words for _, words in judged], table.index, dtype=object)
    return table.assign(confidence_frac=shares, confidence=texts)


def _judge(n_same: int | None, n: int, criteria: Criteria, *, n_chance: int = 0) -> tuple[float | None, str]:
    """Share and words of a finding that holds in `n_same` of `n` realisations; None = it cannot be said."""
    if n_same is None or n == 0:
        return None, NOT_ASSESSED
    share = float(n_same / n)
    if share < criteria.findings.holds_min_frac:
        return share, f"{WITHIN_ERROR} (holds in {n_same} of {n})"
    if n_chance / n > criteria.findings.chance_max_frac:
        return share, f"{WITHIN_ERROR} (error alone makes one as deep in {n_chance} of {n})"
    return share, f"holds in {n_same} of {n}"


def key_of(verdict: Verdict) -> VerdictKey:
    """Tell a verdict from all others of a block."""
    return verdict.subject_kind, verdict.subject_id, verdict.statistic


def _note(n: int, criteria: Criteria) -> Note:
    terrain = criteria.terrain
    said = partial(
        note,
        NoteKind.ASSUMED,
        NoteSubject.CONFIDENCE,
        n_realisations=n,
        rmse_m=vertical_rmse_m(criteria),
        correlation_m=terrain.error_correlation_m,
        uncorrelated_frac=terrain.error_uncorrelated_frac,
        seed=terrain.error_seed,
    )
    if terrain.elevation_rmse_m:
        return said(NoteCode.ERROR_STATED)
    return said(NoteCode.ERROR_OF_QUALITY_LEVEL, quality_level=terrain.lidar_quality_level)
