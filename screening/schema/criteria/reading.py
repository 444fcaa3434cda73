"""Criteria from names and values, on top of a profile; and in what two sets differ."""

from __future__ import annotations

from typing import Any

from screening.errors import CriteriaError
from screening.schema.criteria.profiles import NEUTRAL, PROFILES, nearest, unknown_profile
from screening.schema.criteria.thresholds import Criteria, thresholds

_MISSPELT = 0.85
"""A profile name so like a published one is taken for a slip of the pen, not for the user's own name."""
_LARGEST_WHOLE = 2**53
"""Whole numbers beyond it are none of ours, and may pass what a float can hold."""
_OWN = "own "


def from_mapping(values: dict[str, Any]) -> Criteria:
    """Make criteria from names and values; what is not named keeps the value of the profile, or its default.

    Parameters
    ----------
    values
        Thresholds by name. `profile` may be a key of `PROFILES`, whose values then stand under the others, or a
        name of the user's own, which stands on the neutral values.

    Raises
    ------
    CriteriaError
        A name is not a threshold, or a value cannot be used. The message gives the nearest name.
    """
    names = list(thresholds())
    unknown = [name for name in values if name not in names]
    if unknown:
        guesses = {name: nearest(name, names) for name in unknown}
        found = ", ".join(f"{name} -> {guess}" for name, guess in guesses.items() if guess)
        raise CriteriaError(
            "The criteria name a threshold that does not exist",
            got=", ".join(unknown),
            expected=f"nearest: {found}" if found else "a name that `screening criteria` writes",
            mend="correct the spelling or remove the line",
        )
    profile = values.get("profile", NEUTRAL)
    is_own = not isinstance(profile, str) or profile not in PROFILES
    if is_own and not str(profile).startswith(_OWN) and nearest(str(profile), PROFILES, cutoff=_MISSPELT):
        raise unknown_profile(str(profile))
    base = {} if is_own else PROFILES[profile].values
    given = {name: _as_declared(value, thresholds()[name].default) for name, value in values.items()}
    return Criteria.of(**base | given)


def own_name(word: str) -> str:
    """Name a set of the user's own so that it is not taken for a published profile, well spelt or not.

    Examples
    --------
    >>> own_name("county"), own_name("minnesota")
    ('county', 'own minnesota')
    """
    return f"{_OWN}{word}" if nearest(word, PROFILES, cutoff=_MISSPELT) else word


def _as_declared(value: Any, default: Any) -> Any:
    """Whole numbers and lists, as a file may hold them, in the kinds that the fields have."""
    if isinstance(value, list):
        return tuple(value)
    is_whole = isinstance(value, int) and not isinstance(value, bool) and abs(value) < _LARGEST_WHOLE
    return float(value) if is_whole and isinstance(default, float) else value


def differences(criteria: Criteria, base: Criteria) -> list[str]:
    """Name the thresholds whose values differ, `profile` aside, in the order of the criteria.

    Examples
    --------
    >>> differences(Criteria.of(setback_well_m=20.0), Criteria())
    ['setback_well_m']
    """
    names = (name for name in thresholds() if name != "profile")
    return [name for name in names if criteria.value(name) != base.value(name)]
