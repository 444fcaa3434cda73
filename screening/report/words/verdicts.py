"""Verdicts in words: what was asked, what to know beside it, where the threshold comes from, how sure it is."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeAlias

from screening.models import Verdict
from screening.report.words.capture import limits_words
from screening.report.words.hydraulics import reason_words
from screening.report.words.sides import wall_words
from screening.report.words.structures import exposure_words
from screening.schema.checks import SUBJECT_LAYER, checks_by_id
from screening.schema.codes.hydraulics import CheckReason
from screening.schema.codes.verdicts import Confidence, VerdictReason
from screening.schema.criteria import Criteria, sources
from screening.units import UnitSystem

if TYPE_CHECKING:
    from screening.report.words import Row, Teller

Facts: TypeAlias = Mapping[str, Any]
"""Numbers and names that the words of a verdict are made from."""
REASONS_JOIN = "; "
"""Between the reasons of a row, and between their words."""
_ON_ITS_KIND = {layer: str(kind) for kind, layer in SUBJECT_LAYER.items()}


def row_of(verdict: Verdict) -> dict[str, Any]:
    """Give a verdict as a row of `columns.VERDICT_COLUMNS`, its sentences left out."""
    trust = verdict.trust
    return {
        "lot_id": verdict.lot_id,
        "aspect": str(verdict.aspect),
        "subject_kind": str(verdict.subject_kind),
        "subject_id": verdict.subject_id,
        "statistic": verdict.statistic,
        "value": verdict.value,
        "operator": str(verdict.operator),
        "threshold": verdict.threshold,
        "unit": verdict.unit,
        "outcome": str(verdict.outcome),
        "points": verdict.points,
        "weight": verdict.weight,
        "is_indicative": verdict.is_indicative,
        "confidence_frac": trust.frac,
        "confidence_code": str(trust.code),
        "n_counted": trust.n_counted,
        "n_realisations": trust.n_realisations,
        "check_id": verdict.check_id,
        "reasons": REASONS_JOIN.join(verdict.reasons),
        "facts": dict(verdict.facts),
    }


def asked_words(row: Row) -> str:
    """Say what was asked, in words that hold when the check passes."""
    check = checks_by_id().get(row["check_id"])
    return str(row["facts"]["check"]) if check is None else check.asks


def source_words(row: Row, criteria: Criteria) -> str:
    """Say where the threshold comes from; empty where nothing was compared."""
    check = checks_by_id().get(row["check_id"])
    if check is None:
        return str(row["facts"]["source"])
    if not row["statistic"]:
        return ""
    return sources(criteria)[check.source or check.threshold]


def note_words(row: Row, criteria: Criteria, units: UnitSystem = "metric") -> str:
    """Say what to know beside a verdict; empty where there is nothing."""
    said = [reason for reason in row["reasons"].split(REASONS_JOIN) if reason]
    if checks_by_id().get(row["check_id"]) is None:
        return reason_words((CheckReason(reason) for reason in said), row["facts"])
    reasons = [VerdictReason(reason) for reason in said]
    return REASONS_JOIN.join(_REASON_WORDS[reason](row, row["facts"], criteria, units) for reason in reasons)


def confidence_words(row: Row) -> str:
    """Say whether a finding holds under elevation error, and in how many realisations."""
    code = Confidence(row["confidence_code"])
    if code is Confidence.NOT_ASSESSED:
        return str(code)
    counted = f"{row['n_counted']} of {row['n_realisations']}"
    if code is Confidence.HOLDS:
        return f"holds in {counted}"
    why = "holds" if code is Confidence.WITHIN_ERROR else "error alone makes one as deep"
    return f"{Confidence.WITHIN_ERROR} ({why} in {counted})"


def not_given_words(verdict: Verdict) -> str:
    """Say which layer a check lacks."""
    return _no_layer(dict(verdict.facts))


def _no_layer(facts: Facts) -> str:
    return f"no {_ON_ITS_KIND.get(facts['layers'], facts['layers'])} layer was given"


def _not_given(row: Row, facts: Facts, criteria: Criteria, units: UnitSystem) -> str:
    return _no_layer(facts)


def _exposure(row: Row, facts: Facts, criteria: Criteria, units: UnitSystem) -> str:
    return exposure_words(facts, criteria, units)


def _beyond(row: Row, facts: Facts, criteria: Criteria, units: UnitSystem) -> str:
    # Percent alone, so that it reads the same in every unit.
    share = facts["context_area_m2"] / row["value"]
    return f"{share:.0%} of it from coarser elevation beyond the window (cells of {facts['context_cell_m']:.3g} m)"


def _inside(row: Row, facts: Facts, criteria: Criteria, units: UnitSystem) -> str:
    return _fall(facts, "inside")


def _outside(row: Row, facts: Facts, criteria: Criteria, units: UnitSystem) -> str:
    return _fall(facts, "beyond")


def _fall(facts: Facts, where: str) -> str:
    words = f"indicative, least at {wall_words(facts['fall_away_side'])}: {where} the elevation's two-point error"
    return f"{words} ({facts['fall_error_pct']:.1f} % at the 95 % level); levels on site must tell"


_REASON_WORDS: dict[VerdictReason, Callable[[Row, Facts, Criteria, UnitSystem], str]] = {
    VerdictReason.LAYER_NOT_GIVEN: _not_given,
    VerdictReason.NO_ELEVATION: lambda row, facts, criteria, units: "no elevation on it",
    VerdictReason.EXPOSURE_NOT_ASSESSED: _exposure,
    VerdictReason.EDGE_CUT: lambda row, facts, criteria, units: "unseen ground beyond the window may add to this",
    VerdictReason.FROM_BEYOND: _beyond,
    VerdictReason.MOST_AT_SIDE: lambda row, facts, criteria, units: f"most at {wall_words(facts['inflow_side'])}",
    VerdictReason.DEEPEST_AT_SIDE: lambda row, facts, criteria, units: f"deepest at {wall_words(facts['pond_side'])}",
    VerdictReason.FALL_NOT_MEASURED: lambda row, facts, criteria, units: (
        "too little open ground in view beside the wall to measure a fall"
    ),
    VerdictReason.INSIDE_ERROR: _inside,
    VerdictReason.BEYOND_ERROR: _outside,
    VerdictReason.RULES_LIMIT: lambda row, facts, criteria, units: limits_words(facts["infiltration_limits"]),
    VerdictReason.TESTS_OWED: lambda row, facts, criteria, units: "candidate only: tests are owed on site",
}

_OF_VERDICTS: dict[str, Teller] = {
    "check": lambda row, criteria, units: asked_words(row),
    "source": lambda row, criteria, units: source_words(row, criteria),
    "note": note_words,
    "confidence": lambda row, criteria, units: confidence_words(row),
}
TELLERS: dict[tuple[str, str], Teller] = {
    (table, column): teller
    for table in ("verdicts", "storage_checks", "drain_checks")
    for column, teller in _OF_VERDICTS.items()
} | {(table, "confidence"): _OF_VERDICTS["confidence"] for table in ("structures", "driveways", "low_spots")}
