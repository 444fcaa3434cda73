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
    NOT_TRIED,
    Bool,
    Depressions,
    LowSpots,
    Note,
    Realisation,
    TerrainFindings,
    Trust,
    Verdict,
    VerdictKey,
    note,
)
from screening.schema.checks import checks_by_id, checks_of
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from screening.schema.codes.structures import ExposureKind
from screening.schema.codes.verdicts import Confidence, Outcome, SubjectKind
from screening.schema.criteria import Criteria
from screening.terrain.elevation_error import vertical_rmse_m

if TYPE_CHECKING:
    import geopandas as gpd

WATER_FOUND_MIN_FRAC = 0.5
"""A low spot is found again where low spots of a realisation cover ground that holds this share of its water."""


def low_spot_cells(low_spots: LowSpots | Depressions) -> I64:
    """Cells at which a realisation is asked for its low spots: flat indices of those of all low spots, ascending."""
    return np.flatnonzero(low_spots.label > 0)


def assess_confidence(
    terrain: TerrainFindings, verdicts: Sequence[Verdict], realisations: Sequence[Realisation], *, criteria: Criteria
) -> tuple[TerrainFindings, tuple[Verdict, ...], tuple[Note, ...]]:
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
    terrain, verdicts
        Found without error.
    realisations
        Of the same block; none = nothing is assessed.
    criteria
        `holds_min_frac`, `chance_max_frac`, and the error's own for the note.

    Returns
    -------
    The findings with `confidence_frac` and its code, for low spots also `chance_frac`, for structures also
    `ponding_frac` and `run_on_frac`; the verdicts with theirs; a note of the error that was taken.
    """
    low_spots = _of_low_spots(terrain.depressions, realisations, criteria)
    by_chance = _ponding_by_chance(terrain.exposure.structures, low_spots, criteria)
    structures = _of_structures(terrain.exposure.structures, realisations, by_chance, criteria)
    judged = tuple(_of_verdict(verdict, realisations, by_chance, criteria) for verdict in verdicts)
    doubted = dataclasses.replace(
        terrain,
        depressions=dataclasses.replace(terrain.depressions, table=low_spots),
        exposure=dataclasses.replace(terrain.exposure, structures=structures),
        driveways=_of_driveways(terrain.driveways, judged),
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
) -> Mapping[str, Trust]:
    """Trust in the low spot at the wall, for structures whose low spot the error alone may have made."""
    is_chance = (low_spots["chance_frac"] > criteria.findings.chance_max_frac).to_numpy(bool)
    trust = dict(zip(low_spots["low_spot_id"][is_chance], _trust_of(low_spots[is_chance]), strict=True))
    pairs = zip(structures["structure_id"], structures["low_spot_id"], strict=True)
    return {structure_id: trust[spot_id] for structure_id, spot_id in pairs if spot_id in trust}


def _trust_of(table: gpd.GeoDataFrame) -> list[Trust]:
    columns = (table[name] for name in ("confidence_code", "confidence_frac", "n_counted", "n_realisations"))
    return [
        Trust(code=Confidence(code), frac=frac, n_counted=n_counted, n_realisations=n)
        for code, frac, n_counted, n in zip(*columns, strict=True)
    ]


def _of_structures(
    structures: gpd.GeoDataFrame,
    realisations: Sequence[Realisation],
    by_chance: Mapping[str, Trust],
    criteria: Criteria,
) -> gpd.GeoDataFrame:
    ids, judged = structures["structure_id"], []
    for structure_id, exposure in zip(ids, structures["exposure"], strict=True):
        found = [realisation.exposure[structure_id] for realisation in realisations]
        n_same = None if exposure == ExposureKind.NOT_ASSESSED else found.count(exposure)
        trust = _judge(n_same, len(realisations), criteria)
        judged.append(_like(trust, by_chance.get(structure_id)) if exposure == ExposureKind.PONDING else trust)
    shares = {
        check.failed_frac: np.array([_failed_share(realisations, (check.check_id, own)) for own in ids])
        for check in checks_of(SubjectKind.STRUCTURE)
        if check.failed_frac
    }
    return _with_confidence(structures.assign(**shares), judged)


def _like(trust: Trust, other: Trust | None) -> Trust:
    """Its own share, with the code of another thing that it stands on, where there is one."""
    return trust if other is None else dataclasses.replace(other, frac=trust.frac)


def _failed_share(realisations: Sequence[Realisation], key: VerdictKey) -> float:
    """Share of the realisations in which a check fails, among those that could make it."""
    outcomes = [realisation.outcome.get(key, Outcome.NOT_ASSESSED) for realisation in realisations]
    n_known = len(outcomes) - outcomes.count(Outcome.NOT_ASSESSED)
    return outcomes.count(Outcome.FAILED) / n_known if n_known else float("nan")


def _of_verdict(
    verdict: Verdict, realisations: Sequence[Realisation], by_chance: Mapping[str, Trust], criteria: Criteria
) -> Verdict:
    key = key_of(verdict)
    is_assessed = verdict.outcome is not Outcome.NOT_ASSESSED
    was_made = is_assessed and any(key in realisation.outcome for realisation in realisations)
    n_same = sum(realisation.outcome.get(key) is verdict.outcome for realisation in realisations) if was_made else None
    trust = _judge(n_same, len(realisations), criteria)
    if checks_by_id()[verdict.check_id].stands_on_low_spot and verdict.outcome is Outcome.FAILED:
        trust = _like(trust, by_chance.get(verdict.subject_id))
    return dataclasses.replace(verdict, trust=trust)


def _of_driveways(driveways: gpd.GeoDataFrame, judged: Sequence[Verdict]) -> gpd.GeoDataFrame:
    """A driveway's confidence is that of its first check."""
    first = checks_of(SubjectKind.DRIVEWAY)[0].check_id
    own = {verdict.subject_id: verdict.trust for verdict in judged if verdict.check_id == first}
    return _with_confidence(driveways, [own.get(driveway_id, NOT_TRIED) for driveway_id in driveways["driveway_id"]])


def _with_confidence(table: gpd.GeoDataFrame, judged: Sequence[Trust]) -> gpd.GeoDataFrame:
    shares: F64 = np.array([trust.frac for trust in judged], np.float64)
    codes = {
        "confidence_code": [str(trust.code) for trust in judged],
        "n_counted": [trust.n_counted for trust in judged],
        "n_realisations": [trust.n_realisations for trust in judged],
    }
    columns = {name: pd.Series(values, table.index, dtype=object) for name, values in codes.items()}
    return table.assign(confidence_frac=shares, **columns)


def _judge(n_same: int | None, n: int, criteria: Criteria, *, n_chance: int = 0) -> Trust:
    """Trust in a finding that holds in `n_same` of `n` realisations; None = it cannot be said."""
    if n_same is None or n == 0:
        return NOT_TRIED
    share = float(n_same / n)
    code, counted = Confidence.HOLDS, n_same
    if share < criteria.findings.holds_min_frac:
        code = Confidence.WITHIN_ERROR
    elif n_chance / n > criteria.findings.chance_max_frac:
        code, counted = Confidence.MADE_BY_ERROR, n_chance
    return Trust(code=code, frac=share, n_counted=counted, n_realisations=n)


def key_of(verdict: Verdict) -> VerdictKey:
    """Tell a verdict from all others of a block."""
    return verdict.check_id, verdict.subject_id


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
