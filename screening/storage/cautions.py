"""Cautions that the numbers of one site set off, with the number, the threshold and where it comes from."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.codes.capture import RouteEnd
from screening.schema.codes.storage import CautionKey, Known
from screening.schema.criteria import Criteria, sources
from screening.storage.caution_rules import CAUTION_RULES, DEPTH_RULES
from screening.units import M_PER_FT

_SAME = 1e-9


@dataclass(frozen=True, kw_only=True)
class SiteFacts:
    """What is known of the place and the storage; None = not known.

    Parameters
    ----------
    pit_depth_m
        From the ground to the bottom of the excavation.
    base_depth_m
        From the ground to the base of the storage.
    drawdown_h
        Time in which it empties when full.
    overflow_m3
        What the storm sends past it.
    overflow_end, overflow_id
        What its overflow comes to first, and its id; not shown yet where there is none.
    structure_m, lot_line_m, well_m, septic_m
        Clear distance to the nearest.
    slope_pct
        Of the ground.
    water_depth_m, rock_depth_m
        From the ground to seasonally high groundwater and to rock.
    is_filled, is_contaminated
        Whether the ground is fill, or contaminated.
    """

    pit_depth_m: float
    base_depth_m: float
    drawdown_h: float
    overflow_m3: float
    overflow_end: RouteEnd = RouteEnd.NONE
    overflow_id: str = ""
    structure_m: float | None = None
    lot_line_m: float | None = None
    well_m: float | None = None
    septic_m: float | None = None
    slope_pct: float | None = None
    water_depth_m: float | None = None
    rock_depth_m: float | None = None
    is_filled: bool | None = None
    is_contaminated: bool | None = None


@dataclass(frozen=True, kw_only=True)
class SiteCaution:
    """One caution.

    Parameters
    ----------
    key
        Names the rule: see `caution_rules.CAUTION_RULES`.
    value, limit, unit
        The number of this site (None = not known), and the threshold; a rule without a number has no limit.
    source
        Of the threshold.
    is_triggered
        The number of this site sets it off.
    known
        Of filled or contaminated ground: what is said of it.
    overflow_end, overflow_id
        Of overflow: what it comes to first, and its id.
    """

    key: CautionKey
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    source: str
    is_triggered: bool = False
    known: Known = Known.NOT_KNOWN
    overflow_end: RouteEnd = RouteEnd.NONE
    overflow_id: str = ""

    @property
    def what(self) -> str:
        """The quantity that was looked at, for readers."""
        return CAUTION_RULES[self.key].what


def site_cautions(facts: SiteFacts, *, criteria: Criteria) -> tuple[SiteCaution, ...]:
    """List the cautions for one site: those that its numbers set off first, each group in the order of the work.

    Parameters
    ----------
    facts
        What is known of it. What is not known sets nothing off and is said to be unknown.
    criteria
        Setbacks, slope, separation and drawdown.

    References
    ----------
    OSHA 29 CFR 1926 Subpart P; paragraph numbers of (g), App. F and 1053 from memory.
    """
    cautions = (
        *_digging(facts.pit_depth_m),
        *_place(facts, criteria),
        *_water(facts, criteria),
        _general(CautionKey.LAW),
    )
    return tuple(sorted(cautions, key=lambda caution: not caution.is_triggered))


def digging_cautions(pit_depth_m: float | None) -> tuple[SiteCaution, ...]:
    """List the cautions of any excavation, those that its depth sets off first; None = the depth is not known."""
    found = _digging(pit_depth_m)
    return tuple(sorted(found, key=lambda caution: not caution.is_triggered))


def _digging(pit_depth_m: float | None) -> list[SiteCaution]:
    found = [
        SiteCaution(
            key=key,
            value=pit_depth_m,
            limit=rule.depth_ft * M_PER_FT,
            unit="m",
            source=CAUTION_RULES[key].source,
            is_triggered=pit_depth_m is not None
            and _is_set_off(pit_depth_m, rule.depth_ft * M_PER_FT, is_beyond=rule.is_beyond),
        )
        for key, rule in DEPTH_RULES.items()
    ]
    return [*found, *(_general(key) for key in (CautionKey.SPOIL, CautionKey.INSPECTION, CautionKey.UTILITIES))]


def _place(facts: SiteFacts, criteria: Criteria) -> list[SiteCaution]:
    source = sources(criteria)
    places = (
        (CautionKey.NEAR_STRUCTURE, facts.structure_m, "setback_structure_m"),
        (CautionKey.NEAR_LOT_LINE, facts.lot_line_m, "setback_lot_line_m"),
        (CautionKey.NEAR_WELL, facts.well_m, "setback_well_m"),
        (CautionKey.NEAR_SEPTIC, facts.septic_m, "setback_septic_m"),
    )
    found = [
        _below(key, distance, limit=criteria.value(threshold), source=source[threshold])
        for key, distance, threshold in places
    ]
    steepest = criteria.capture.infiltration_slope_max_pct
    return [
        *found,
        _below(
            CautionKey.FOOTING,
            facts.structure_m,
            limit=facts.pit_depth_m,
            source=CAUTION_RULES[CautionKey.FOOTING].source,
        ),
        SiteCaution(
            key=CautionKey.SLOPE,
            value=facts.slope_pct,
            limit=steepest,
            unit="pct",
            source=source["infiltration_slope_max_pct"],
            is_triggered=facts.slope_pct is not None and _is_set_off(facts.slope_pct, steepest, is_beyond=True),
        ),
        _reported(CautionKey.FILL, facts.is_filled),
        _reported(CautionKey.CONTAMINATION, facts.is_contaminated),
    ]


def _reported(key: CautionKey, is_so: bool | None) -> SiteCaution:
    known = Known.NOT_KNOWN if is_so is None else Known.REPORTED if is_so else Known.NONE_REPORTED
    return SiteCaution(key=key, source=CAUTION_RULES[key].source, is_triggered=is_so is True, known=known)


def _water(facts: SiteFacts, criteria: Criteria) -> list[SiteCaution]:
    source = sources(criteria)
    longest = criteria.storage.drawdown_max_h
    end, end_id = facts.overflow_end, facts.overflow_id
    return [
        *(
            _below(
                key,
                None if depth is None else depth - facts.base_depth_m,
                limit=criteria.value(threshold),
                source=source[threshold],
            )
            for key, depth, threshold in (
                (CautionKey.GROUNDWATER, facts.water_depth_m, "separation_water_m"),
                (CautionKey.ROCK, facts.rock_depth_m, "separation_rock_m"),
            )
        ),
        SiteCaution(
            key=CautionKey.DRAWDOWN,
            value=facts.drawdown_h,
            limit=longest,
            unit="h",
            source=source["drawdown_max_h"],
            is_triggered=_is_set_off(facts.drawdown_h, longest, is_beyond=True),
        ),
        SiteCaution(
            key=CautionKey.OVERFLOW,
            value=facts.overflow_m3,
            limit=0.0,
            unit="m3",
            source=CAUTION_RULES[CautionKey.OVERFLOW].source,
            is_triggered=facts.overflow_m3 > 0.0,
            overflow_end=end,
            overflow_id=end_id,
        ),
        SiteCaution(
            key=CautionKey.LARGER_STORMS,
            source=CAUTION_RULES[CautionKey.LARGER_STORMS].source,
            overflow_end=end,
            overflow_id=end_id,
        ),
        _general(CautionKey.NEIGHBOURS),
    ]


def _general(key: CautionKey) -> SiteCaution:
    return SiteCaution(key=key, source=CAUTION_RULES[key].source)


def _below(key: CautionKey, value: float | None, *, limit: float, source: str) -> SiteCaution:
    return SiteCaution(
        key=key,
        value=value,
        limit=limit,
        unit="m",
        source=source,
        is_triggered=value is not None and value < limit - _SAME,
    )


def _is_set_off(value: float, limit: float, *, is_beyond: bool) -> bool:
    """At the limit or over it; with `is_beyond` only over it."""
    return value > limit + _SAME if is_beyond else value >= limit - _SAME
