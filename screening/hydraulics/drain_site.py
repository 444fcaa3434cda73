"""What decides about a trench drain besides water: the dig, the load, the outfall, and leave to use it."""

from __future__ import annotations

from dataclasses import dataclass

from screening.errors import InputError
from screening.hydraulics.ranges import check_range
from screening.hydraulics.rows import CheckRow
from screening.schema.codes.hydraulics import CheckReason, DrainCaution, Use
from screening.schema.codes.verdicts import Operator
from screening.schema.criteria import Criteria, sources

LOAD_CLASS_KN: dict[str, float] = {
    "A15": 15.0,
    "B125": 125.0,
    "C250": 250.0,
    "D400": 400.0,
    "E600": 600.0,
    "F900": 900.0,
}
"""Load classes of grates and their test loads [kN]: EN 1433, from memory."""
CLASS_FOR_USE: dict[Use, str] = {Use.WALKING: "A15", Use.CARS: "B125", Use.TRUCKS: "D400"}
"""Least class by the heaviest thing the owner lets onto the ground: EN 1433 groups 1, 2 and 4, from memory."""

_SAG_SOURCE = "HEC-22 (2009) p. 4-56: grate inlets alone are not recommended in sags, because they clog"
DRAIN_CAUTIONS: dict[DrainCaution, str] = {
    DrainCaution.NO_PIPE: "No outlet pipe is given: how the water leaves the channel is not assessed.",
    DrainCaution.FAST_SHEET: "Whether a fast sheet of water shoots over a narrow grate is not assessed: no published "
    "rule for line drains is at hand. Wider grates, and ground that levels out before them, help.",
    DrainCaution.STEADY_FLOW: "Flow is taken as steady and inflow as even along the drain; what bypasses it is a rate, "
    "not a volume.",
    DrainCaution.SMALL_CHANNELS: "Small channels made for walkways do not serve a driveway that floods (common "
    "practice, no published source).",
    DrainCaution.UPKEEP: "Grates and channels hold only as clean as they are kept: after leaf fall and large storms "
    "they need a look.",
}
"""What an assessment of a trench drain says of its own limits; the first where it has no pipe, the others always."""


@dataclass(frozen=True, kw_only=True)
class DrainSite:
    """What is known of the place of a trench drain; None is not known.

    Parameters
    ----------
    cut_depth_m
        Deepest cut for channel and pipe, bedding included [m]. Left out, the channel's depth is a lower bound.
    use
        Heaviest thing the owner lets onto the grate.
    load_class
        Class of the grate, a name of `LOAD_CLASS_KN`.
    has_overflow_path
        Water that the drain does not take has a safe way on.
    has_discharge_permission
        Whoever owns the place that takes the water, and the law there, allow it.

    Raises
    ------
    InputError
        A depth is impossible, or a word is not one of those known.
    """

    cut_depth_m: float | None = None
    use: Use | None = None
    load_class: str | None = None
    has_overflow_path: bool | None = None
    has_discharge_permission: bool | None = None

    def __post_init__(self) -> None:
        if self.cut_depth_m is not None:
            check_range("cut_depth_m", self.cut_depth_m, above=True)
        for name, word, words in (
            ("use", self.use, tuple(CLASS_FOR_USE)),
            ("load_class", self.load_class, tuple(LOAD_CLASS_KN)),
        ):
            if word is not None and word not in words:
                raise InputError(
                    f"{name} is not one that is known",
                    got=repr(word),
                    expected=", ".join(words),
                    mend="use one of these words, or leave it out",
                )


def check_site(site: DrainSite, *, channel_depth_m: float, criteria: Criteria) -> tuple[CheckRow, ...]:
    """Compare the place of a trench drain with the rules for digging, loads, overflow and discharge.

    Parameters
    ----------
    site
        What is known of the place.
    channel_depth_m
        Depth of the channel at its outlet [m], the least that must be dug.
    criteria
        `excavation_egress_depth_m` and `excavation_protection_depth_m`.

    Returns
    -------
    Rows: two of the dig, then load, overflow path and permission.
    """
    return (
        *_dig_rows(site, channel_depth_m, criteria),
        _load_row(site),
        CheckRow(
            check="Water that the drain does not take has a safe way on",
            statistic="has_overflow_path",
            value=_as_number(site.has_overflow_path),
            operator=Operator.EQUAL,
            threshold=1.0,
            unit="",
            source=_SAG_SOURCE,
            reasons=(CheckReason.CLOGS_IN_LOW_PLACES,),
        ),
        CheckRow(
            check="The discharge is permitted",
            statistic="has_discharge_permission",
            value=_as_number(site.has_discharge_permission),
            operator=Operator.EQUAL,
            threshold=1.0,
            unit="",
            source="local law and the owner of the receiving land, street or sewer",
            reasons=(CheckReason.NEEDS_PERMISSION,),
        ),
    )


def _dig_rows(site: DrainSite, channel_depth_m: float, criteria: Criteria) -> list[CheckRow]:
    source = sources(criteria)
    is_least = site.cut_depth_m is None
    depth = channel_depth_m if site.cut_depth_m is None else site.cut_depth_m
    return [
        CheckRow(
            check=check,
            statistic="cut_depth_m",
            value=depth,
            operator=Operator.BELOW,
            threshold=criteria.value(name),
            unit="m",
            source=source[name],
            reasons=(CheckReason.CHANNEL_DEPTH_ALONE,) if is_least else (),
            is_lower_bound=is_least,
        )
        for check, name in (
            ("The cut is too shallow to call for a ladder, ramp or stairway", "excavation_egress_depth_m"),
            ("The cut is too shallow to call for protection against cave-in", "excavation_protection_depth_m"),
        )
    ]


def _load_row(site: DrainSite) -> CheckRow:
    held = None if site.load_class is None else LOAD_CLASS_KN[site.load_class]
    needed = float("nan") if site.use is None else LOAD_CLASS_KN[CLASS_FOR_USE[site.use]]
    return CheckRow(
        check="The grate bears the owner's use",
        statistic="load_kn",
        value=held,
        operator=Operator.AT_LEAST,
        threshold=needed,
        unit="kn",
        source="EN 1433, from memory",
        reasons=(CheckReason.ASK_FOR_VEHICLE if site.use is None else CheckReason.CLASS_FOR_USE,),
        facts=() if site.use is None else (("use", site.use), ("load_class", CLASS_FOR_USE[site.use])),
    )


def _as_number(known: bool | None) -> float | None:
    return None if known is None else float(known)
