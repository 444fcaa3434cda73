"""Published sets of thresholds: what each document states, rule by rule. What it is not known to state stays neutral.

Only documents whose rules were read are here; figures are rounded from feet and inches to the centimetre and 0.1 mm/h.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from screening.errors import CriteriaError
from screening.schema.criteria.thresholds import Criteria

NEUTRAL = "neutral"


@dataclass(frozen=True)
class Rule:
    """One threshold as a document states it: its value, and the document's own figure or wording."""

    value: Any
    stated: str


@dataclass(frozen=True, kw_only=True)
class Profile:
    """The rules that were read in one document.

    Parameters
    ----------
    name
        What the command line and the criteria file call it.
    document
        The publication.
    rules
        By name of the threshold.
    note
        What a reader must know of it.
    """

    name: str
    document: str
    rules: MappingProxyType[str, Rule]
    note: str = ""

    @property
    def values(self) -> dict[str, Any]:
        """Thresholds that it sets."""
        return {name: rule.value for name, rule in self.rules.items()}


def _profile(name: str, document: str, note: str = "", **rules: tuple[Any, str]) -> Profile:
    return Profile(
        name=name,
        document=document,
        rules=MappingProxyType({key: Rule(*rule) for key, rule in rules.items()}),
        note=note,
    )


_ALL = (
    _profile(
        NEUTRAL,
        "no single document: each threshold has its own source",
        "where the documents read differ on storage, the stricter figure",
    ),
    _profile(
        "new-jersey-2016",
        "New Jersey Stormwater BMP Manual chapter 9.3, Dry Wells (February 2016)",
        "read in a copy; its setbacks were not read and stay neutral",
        rate_min_mm_h=(12.7, "0.5 in/h"),
        rate_max_mm_h=(254.0, "10 in/h"),
        rate_safety_factor=(2.0, "2 on permeability"),
        drawdown_max_h=(72.0, "72 h"),
        separation_water_m=(0.61, "2 ft to seasonally high water table"),
    ),
    _profile(
        "virginia-spec-8",
        "Virginia DEQ Stormwater Design Specification No. 8, Infiltration (versions 1.9 and 2.0)",
        "read in copies; its setbacks were not read and stay neutral",
        rate_min_mm_h=(12.7, "more than 1/2 in/h measured"),
        rate_safety_factor=(2.0, "design rate is 1/2 of measured"),
        stone_void_frac=(0.40, "void ratio 0.40"),
    ),
    _profile(
        "minnesota",
        "Minnesota Stormwater Manual",
        "well and structure setbacks as for infiltration; septic setback as for bioretention that treats 1000 gal or "
        "more; 10 ft to structures and lot lines is a recommendation; 50 ft is enough at wells that are not sensitive",
        setback_structure_m=(3.05, "10 ft, recommended"),
        setback_lot_line_m=(3.05, "10 ft, recommended"),
        setback_well_m=(30.5, "100 ft to sensitive wells, 50 ft to others, required"),
        setback_septic_m=(15.2, "50 ft to tank or field"),
        separation_water_m=(0.914, "3 ft to seasonally saturated soil, required"),
        separation_rock_m=(0.914, "3 ft to bedrock, required"),
    ),
    _profile(
        "single-family-2010",
        "single-family residential dry well standard plan of a soil conservation district, July 2010",
        "read in a copy; at most 1000 sq ft of roof to one dry well; 50 ft from fill slopes of 25 % or more",
        infiltration_groups=(("A", "B", "C"), "not in group D"),
        infiltration_slope_max_pct=(20.0, "20 %"),
        setback_structure_m=(3.05, "10 ft to buildings"),
        setback_well_m=(15.2, "50 ft"),
        setback_septic_m=(7.62, "25 ft"),
        rate_min_mm_h=(6.86, "0.27 in/h"),
        drawdown_max_h=(48.0, "48 h"),
    ),
    _profile(
        "model-ordinance-1043-16",
        "township code section 1043.16, after a state's model stormwater ordinance",
        "read; of it the depth to a limiting zone alone, which is seasonally high water, rock or the like",
        separation_water_m=(0.61, "24 in or more to a limiting zone"),
        separation_rock_m=(0.61, "24 in or more to a limiting zone"),
    ),
    _profile(
        "indoor-air-1.7",
        "EPA Indoor airPLUS Construction Specifications, 1.7",
        "read; an underground catchment is not tied to a foundation drain, and a downspout ends 5 ft or more from the "
        "foundation",
        setback_structure_m=(3.05, "underground catchment 10 ft or more from the foundation"),
    ),
    _profile(
        "6-nycrr-646-4.9",
        "6 NYCRR 646-4.9, minor projects",
        "read; its distance holds for places up-gradient of a wastewater field and is kept on all sides here; storage "
        "is sized for 1.5 gal for each square foot of new impervious ground, taken as a rain of that depth",
        setback_septic_m=(6.10, "not up-gradient within 20 ft of a wastewater field"),
        capture_rain_mm=(61.1, "1.5 gal for each square foot of new impervious ground, which is 2.41 in"),
    ),
)
PROFILES: MappingProxyType[str, Profile] = MappingProxyType({profile.name: profile for profile in _ALL})
"""Profiles by name; the neutral one first."""


def choose_profile(name: str) -> Criteria:
    """Give the criteria of a published profile.

    Parameters
    ----------
    name
        Key of `PROFILES`.

    Raises
    ------
    CriteriaError
        There is no such profile; the message gives the nearest name.

    Examples
    --------
    >>> choose_profile("single-family-2010").capture.setback_septic_m
    7.62
    """
    if name not in PROFILES:
        raise unknown_profile(name)
    return Criteria.of(profile=name, **PROFILES[name].values)


def unknown_profile(name: str) -> CriteriaError:
    """Say that no profile has this name, and which comes nearest."""
    near = nearest(name, PROFILES)
    return CriteriaError(
        "There is no such profile",
        got=repr(name),
        expected=", ".join(PROFILES),
        mend=f"use {near}" if near else "use one of these, or give your own thresholds as a criteria file",
    )


def nearest(word: str, words: Any, *, cutoff: float = 0.6) -> str | None:
    """Give the word that is spelt most alike, or none that is near."""
    import difflib

    return next(iter(difflib.get_close_matches(word, list(words), n=1, cutoff=cutoff)), None)
