"""Words of the checks of drains and storage: what a reader must know beside their numbers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from screening.report.words.routes import outfall_words
from screening.schema.codes.hydraulics import CheckReason

if TYPE_CHECKING:
    from screening.report.words import Teller

_PERMISSION = "water may not be sent onto neighbouring land"
_VEHICLE = "ask the owner for the heaviest vehicle that may come, deliveries and waste trucks among them"
_FREE_FALL = "with a free fall at its outlet"
_PLAIN: dict[CheckReason, str] = {
    CheckReason.FREE_FALL: _FREE_FALL,
    CheckReason.BRIMFUL: "with the channel brimful, no more than when full",
    CheckReason.NO_PIPE: "no outlet pipe is given",
    CheckReason.NO_VELOCITY: "no velocity without a pipe that falls",
    CheckReason.CHANNEL_DEPTH_ALONE: "the channel's own depth; bedding and the pipe's trench go deeper",
    CheckReason.CLOGS_IN_LOW_PLACES: "look for it on site: a clogged grate in a low place takes nothing",
    CheckReason.NEEDS_PERMISSION: f"{_PERMISSION}, a street or a sewer without permission",
    CheckReason.ASK_FOR_VEHICLE: _VEHICLE,
    CheckReason.NO_LOW_PLACE: "no place was found that is low enough; a pump, or a line further up, would be needed",
    CheckReason.BEFORE_HELD_BACK: "before any is held back above it",
    CheckReason.NO_DRAIN_DEPTH: "without the drain's depth its fall is not known",
    CheckReason.NOT_FOLLOWED: "what it cannot hold is not followed further: it needs a safe way on",
    CheckReason.NEIGHBOUR_LAND: f"{_PERMISSION} without permission (local law)",
    CheckReason.NEVER_EMPTIES: "it never empties through the ground",
    CheckReason.RATE_NOT_MEASURED: "the rate was not measured on site",
    CheckReason.WATER_DEPTH_UNKNOWN: "the depth to groundwater is not known",
    CheckReason.ROCK_DEPTH_UNKNOWN: "the depth to rock is not known",
}


def reason_words(reasons: Iterable[CheckReason], facts: Iterable[tuple[str, Any]] = ()) -> str:
    """Say what a reader must know beside a check.

    Parameters
    ----------
    reasons, facts
        As `hydraulics.rows.CheckRow` has them.
    """
    named = dict(facts)
    return "; ".join(_PLAIN[reason] if reason in _PLAIN else _with_facts(reason, named) for reason in reasons)


def _with_facts(reason: CheckReason, facts: Mapping[str, Any]) -> str:
    if reason == CheckReason.GRATE_STATE:
        depth_mm = facts["depth_m"] * 1000
        return f"under {depth_mm:.0f} mm of standing water, as {facts['law']}, {facts['clogged_frac']:.0%} clogged"
    if reason == CheckReason.STANDS_ABOVE_GRATE:
        where = f"from {facts['from_m']:.1f} to {facts['to_m']:.1f} m"
        return f"{_FREE_FALL}; under the inflow water stands above the grate {where}"
    if reason == CheckReason.SLOPE_FOR_INFLOW:
        return f"slope for the inflow when full: {facts['slope_frac'] * 100:.2f} %"
    if reason == CheckReason.CLASS_FOR_USE:
        return f"{facts['use']}: class {facts['load_class']} or higher; {_VEHICLE}"
    return outfall_words(facts["outfall"], facts["zone_id"])


TELLERS: dict[tuple[str, str], Teller] = {}
"""No sentence of a table is made of these words alone."""
