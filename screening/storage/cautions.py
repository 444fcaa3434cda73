"""Cautions that the numbers of one site set off, with the number, the threshold and where it comes from."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.criteria import COMMON_PRACTICE, Criteria, sources
from screening.units import M_PER_FT, UnitSystem, format_value

_SUBPART_P = "OSHA 29 CFR 1926"
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
    overflow_to
        Where its overflow goes, in words; empty = not shown yet.
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
    overflow_to: str = ""
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
        Names the rule.
    what
        The quantity that was looked at, for readers.
    value, limit, unit
        The number of this site (None = not known), and the threshold; a rule without a number has no limit.
    advice
        What follows.
    source
        Of the threshold.
    is_triggered
        The number of this site sets it off.
    """

    key: str
    what: str
    value: float | None
    limit: float | None
    unit: str
    advice: str
    source: str
    is_triggered: bool


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
    cautions = (*_digging(facts.pit_depth_m), *_place(facts, criteria), *_water(facts, criteria), *_law())
    return tuple(sorted(cautions, key=lambda caution: not caution.is_triggered))


def digging_cautions(pit_depth_m: float | None) -> tuple[SiteCaution, ...]:
    """List the cautions of any excavation, those that its depth sets off first; None = the depth is not known."""
    found = _digging(pit_depth_m)
    return tuple(sorted(found, key=lambda caution: not caution.is_triggered))


def _digging(pit_depth_m: float | None) -> list[SiteCaution]:
    deep = "Depth of the excavation"
    rules = (
        (
            "engineer",
            20.0,
            True,
            "a registered professional engineer designs its protective system",
            "1926.652(b), (c) and App. F",
        ),
        (
            "protective system",
            5.0,
            False,
            "a protective system is needed (slopes, shoring or a shield), stable rock "
            "excepted; in less depth too, unless a competent person finds no sign of a cave-in",
            "1926.652(a)(1)",
        ),
        ("atmosphere", 4.0, True, "the air is tested before entry where it could be hazardous", "1926.651(g)(1)"),
        (
            "way out",
            4.0,
            False,
            "a stairway, ladder or ramp is needed within 25 ft (7.6 m) of travel; a ladder "
            "stands 3 ft (0.9 m) above the edge",
            "1926.651(c)(2) and 1926.1053(b)(1)",
        ),
    )
    found = [
        SiteCaution(
            key=key,
            what=deep,
            value=pit_depth_m,
            limit=feet * M_PER_FT,
            unit="m",
            advice=advice,
            source=f"OSHA 29 CFR {paragraph}",
            is_triggered=pit_depth_m is not None and _saddles(pit_depth_m, feet * M_PER_FT, beyond=beyond),
        )
        for key, feet, beyond, advice, paragraph in rules
    ]
    found += [
        _general(
            "spoil",
            "Spoil and equipment",
            "keep them 2 ft (0.6 m) or more back from the edge",
            f"{_SUBPART_P}.651(j)(2)",
        ),
        _general(
            "inspection",
            "Inspection",
            "a competent person inspects the excavation daily and after rain",
            f"{_SUBPART_P}.651(k)(1)",
        ),
        _general(
            "utilities",
            "Buried utilities",
            "have them located before any digging (in the United States call "
            "811 and wait for the marks); private lines need a locate of their own",
            f"{_SUBPART_P}.651(b), from memory; state one-call laws",
        ),
    ]
    return found


def _place(facts: SiteFacts, criteria: Criteria) -> list[SiteCaution]:
    source = sources(criteria)
    places = (
        ("structure", facts.structure_m, "setback_structure_m"),
        ("lot line", facts.lot_line_m, "setback_lot_line_m"),
        ("well", facts.well_m, "setback_well_m"),
        ("septic field", facts.septic_m, "setback_septic_m"),
    )
    found = [
        _below(
            key=f"near {name}",
            what=f"Distance to the nearest {name}",
            value=distance,
            limit=criteria.value(threshold),
            unit="m",
            advice="it is nearer than the clear distance that was chosen; local code may ask for more",
            source=source[threshold],
        )
        for name, distance, threshold in places
    ]
    found.append(
        _below(
            key="footing",
            what="Distance to the nearest structure",
            value=facts.structure_m,
            limit=facts.pit_depth_m,
            unit="m",
            advice="the pit reaches below a line that falls 1 to 1 from the ground at the structure: support of the "
            "footing needs a qualified opinion",
            source=COMMON_PRACTICE,
        )
    )
    steepest = criteria.capture.infiltration_slope_max_pct
    found.append(
        SiteCaution(
            key="slope",
            what="Slope of the ground",
            value=facts.slope_pct,
            limit=steepest,
            unit="pct",
            advice="steep or unstable ground may not bear more water",
            source=source["infiltration_slope_max_pct"],
            is_triggered=facts.slope_pct is not None and _saddles(facts.slope_pct, steepest, beyond=True),
        )
    )
    for key, what, known in (
        ("fill", "Filled ground", facts.is_filled),
        ("contamination", "Contaminated ground", facts.is_contaminated),
    ):
        said = {None: "not known; ask for the history of the ground", True: "reported here", False: "none reported"}
        advice = f"{said[known]}; water is kept away from it unless a qualified professional agrees"
        found.append(
            SiteCaution(
                key=key,
                what=what,
                value=None,
                limit=None,
                unit="",
                advice=advice,
                source=COMMON_PRACTICE,
                is_triggered=known is True,
            )
        )
    return found


def _water(facts: SiteFacts, criteria: Criteria) -> list[SiteCaution]:
    source = sources(criteria)
    found = [
        _below(
            key=key,
            what=f"Depth from the base to {what}",
            value=None if depth is None else depth - facts.base_depth_m,
            limit=criteria.value(threshold),
            unit="m",
            advice="it is less than what was chosen; a test pit decides",
            source=source[threshold],
        )
        for key, what, depth, threshold in (
            ("groundwater", "seasonally high groundwater", facts.water_depth_m, "separation_water_m"),
            ("rock", "rock", facts.rock_depth_m, "separation_rock_m"),
        )
    ]
    longest = criteria.storage.drawdown_max_h
    found.append(
        SiteCaution(
            key="drawdown",
            what="Time to empty when full",
            value=facts.drawdown_h,
            limit=longest,
            unit="h",
            advice="it may not be ready for the next storm",
            source=source["drawdown_max_h"],
            is_triggered=_saddles(facts.drawdown_h, longest, beyond=True),
        )
    )
    way = f"it goes to {facts.overflow_to}" if facts.overflow_to else "where it goes is not shown yet"
    found += [
        SiteCaution(
            key="overflow",
            what="Overflow of this storm",
            value=facts.overflow_m3,
            limit=0.0,
            unit="m3",
            advice=way,
            source=COMMON_PRACTICE,
            is_triggered=facts.overflow_m3 > 0.0,
        ),
        _general(
            "larger storms", "Storms larger than this one", f"their overflow needs a safe way; {way}", COMMON_PRACTICE
        ),
        _general(
            "neighbours",
            "Neighbours",
            "no water is directed onto neighbouring land, a street or a sewer without permission",
            COMMON_PRACTICE,
        ),
    ]
    return found


def _law() -> list[SiteCaution]:
    return [
        _general(
            "law",
            "Local code and licensed practice",
            "setbacks, sizing storms, permits and who may design or install are set there; check before design",
            COMMON_PRACTICE,
        )
    ]


def _general(key: str, what: str, advice: str, source: str) -> SiteCaution:
    return SiteCaution(
        key=key, what=what, value=None, limit=None, unit="", advice=advice, source=source, is_triggered=False
    )


def _below(key: str, what: str, value: float | None, limit: float, unit: str, advice: str, source: str) -> SiteCaution:
    triggered = value is not None and value < limit - _SAME
    return SiteCaution(
        key=key, what=what, value=value, limit=limit, unit=unit, advice=advice, source=source, is_triggered=triggered
    )


def _saddles(value: float, limit: float, *, beyond: bool) -> bool:
    """At the limit or over it; with `beyond` only over it."""
    return value > limit + _SAME if beyond else value >= limit - _SAME


def caution_words(caution: SiteCaution, units: UnitSystem = "metric") -> str:
    """Write a caution for a reader, its number first.

    Examples
    --------
    >>> facts = SiteFacts(pit_depth_m=1.6, base_depth_m=1.6, drawdown_h=30.0, overflow_m3=0.0)
    >>> caution_words(site_cautions(facts, criteria=Criteria())[0])[:54]
    'Depth of the excavation: 1.60 m (threshold 1.52 m): a '
    """
    source = f" [{caution.source}]."
    if caution.limit is None:
        return f"{caution.what}: {caution.advice}{source}"
    value, limit = (_number(number, caution.unit, units) for number in (caution.value, caution.limit))
    if caution.is_triggered:
        return f"{caution.what}: {value} (threshold {limit}): {caution.advice}{source}"
    left = "to be settled before design" if caution.value is None else "not set off"
    return f"{caution.what}: {value} (threshold {limit}, {caution.key}): {left}{source}"


def _number(value: float | None, unit: str, units: UnitSystem) -> str:
    if value is None:
        return "not known"
    if unit == "h":
        return "no end" if value == float("inf") else f"{value:.0f} h"
    return format_value(value, unit, units)
