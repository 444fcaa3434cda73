"""Where the value of each threshold comes from: its own source, a published profile, or the user."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from screening.schema.criteria.profiles import PROFILES, choose_profile
from screening.schema.criteria.reading import differences
from screening.schema.criteria.thresholds import Criteria, Threshold, thresholds


@dataclass(frozen=True, kw_only=True)
class ThresholdInUse:
    """One threshold as a reader is told of it: its value, and where that value comes from."""

    name: str
    value: Any
    unit: str
    meaning: str
    source: str


def describe(criteria: Criteria) -> list[ThresholdInUse]:
    """List the thresholds: name, value, unit, meaning and source, in their order.

    The source is that of the value in use: a profile that states it, the default's where the default stands, or
    the user where it was changed.

    Examples
    --------
    >>> describe(Criteria())[1].name
    'window_margin_m'
    """
    return [
        ThresholdInUse(
            name=spec.name,
            value=criteria.value(spec.name),
            unit=spec.unit,
            meaning=spec.meaning,
            source=_source(criteria, spec),
        )
        for spec in thresholds().values()
    ]


@lru_cache(maxsize=4)
def sources(criteria: Criteria) -> Mapping[str, str]:
    """Give the source of each threshold by its name, as `describe` does; kept, because every check asks for it."""
    return MappingProxyType({row.name: row.source for row in describe(criteria)})


def _source(criteria: Criteria, spec: Threshold) -> str:
    value, default, own = criteria.value(spec.name), spec.default, spec.source
    profile = PROFILES.get(criteria.profile)
    if spec.name == "profile":
        return profile.document if profile and profile.rules else own
    rule = profile.rules.get(spec.name) if profile else None
    if profile and rule and value == rule.value:
        return f"{profile.document}: {rule.stated}"
    if value == default and not rule:
        return own
    stands_for = f"{profile.name} states {_words(rule.value)}" if profile and rule else f"default {_words(default)}"
    unit = f" {spec.unit}" if spec.unit and not isinstance(default, tuple) else ""
    return f"the user's own value ({stands_for}{unit}, from {profile.document if profile and rule else own})"


def _words(value: Any) -> str:
    if isinstance(value, tuple):
        return ", ".join(map(str, value))
    return f"{value:g}" if isinstance(value, float) else str(value)


def profile_words(criteria: Criteria) -> str:
    """Name the set of thresholds for a reader, with what was changed in it.

    Examples
    --------
    >>> profile_words(Criteria.of(setback_well_m=20.0))
    'neutral, changed in setback_well_m'
    """
    base = choose_profile(criteria.profile) if criteria.profile in PROFILES else Criteria()
    changed = differences(criteria, base)
    shown = ", ".join(changed[:4]) + (f" and {len(changed) - 4} more" if len(changed) > 4 else "")
    if criteria.profile in PROFILES:
        return criteria.profile + (f", changed in {shown}" if changed else "")
    return f"{criteria.profile} (own)" + (f", differs from neutral in {shown}" if changed else ", equal to neutral")
