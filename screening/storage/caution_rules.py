"""Rules that the numbers of a site may set off: what each looks at, what follows, and where it comes from."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.codes.storage import CautionKey
from screening.schema.criteria import COMMON_PRACTICE

_SUBPART_P = "OSHA 29 CFR 1926"


@dataclass(frozen=True, kw_only=True)
class CautionRule:
    """One rule.

    Parameters
    ----------
    what
        The quantity that is looked at, for readers.
    advice
        What follows; empty where that depends on the site, and `report.words.storage` says it.
    source
        Of the rule; empty where it is that of a criterion.
    """

    what: str
    advice: str = ""
    source: str = ""


@dataclass(frozen=True, kw_only=True)
class DepthRule:
    """A depth of the excavation [ft] at which a rule begins to hold; beyond it alone, where `is_beyond`."""

    depth_ft: float
    is_beyond: bool


DEPTH_RULES: dict[CautionKey, DepthRule] = {
    CautionKey.ENGINEER: DepthRule(depth_ft=20.0, is_beyond=True),
    CautionKey.PROTECTIVE_SYSTEM: DepthRule(depth_ft=5.0, is_beyond=False),
    CautionKey.ATMOSPHERE: DepthRule(depth_ft=4.0, is_beyond=True),
    CautionKey.WAY_OUT: DepthRule(depth_ft=4.0, is_beyond=False),
}
"""OSHA 29 CFR 1926 Subpart P; paragraph numbers of (g), App. F and 1053 from memory."""

_DEEP = "Depth of the excavation"
_TOO_NEAR = "it is nearer than the clear distance that was chosen; local code may ask for more"
_TOO_SHALLOW = "it is less than what was chosen; a test pit decides"

CAUTION_RULES: dict[CautionKey, CautionRule] = {
    CautionKey.ENGINEER: CautionRule(
        what=_DEEP,
        advice="a registered professional engineer designs its protective system",
        source=f"{_SUBPART_P}.652(b), (c) and App. F",
    ),
    CautionKey.PROTECTIVE_SYSTEM: CautionRule(
        what=_DEEP,
        advice="a protective system is needed (slopes, shoring or a shield), stable rock excepted; in less depth too, "
        "unless a competent person finds no sign of a cave-in",
        source=f"{_SUBPART_P}.652(a)(1)",
    ),
    CautionKey.ATMOSPHERE: CautionRule(
        what=_DEEP,
        advice="the air is tested before entry where it could be hazardous",
        source=f"{_SUBPART_P}.651(g)(1)",
    ),
    CautionKey.WAY_OUT: CautionRule(
        what=_DEEP,
        advice="a stairway, ladder or ramp is needed within 25 ft (7.6 m) of travel; a ladder stands 3 ft (0.9 m) "
        "above the edge",
        source=f"{_SUBPART_P}.651(c)(2) and 1926.1053(b)(1)",
    ),
    CautionKey.SPOIL: CautionRule(
        what="Spoil and equipment",
        advice="keep them 2 ft (0.6 m) or more back from the edge",
        source=f"{_SUBPART_P}.651(j)(2)",
    ),
    CautionKey.INSPECTION: CautionRule(
        what="Inspection",
        advice="a competent person inspects the excavation daily and after rain",
        source=f"{_SUBPART_P}.651(k)(1)",
    ),
    CautionKey.UTILITIES: CautionRule(
        what="Buried utilities",
        advice="have them located before any digging (in the United States call 811 and wait for the marks); private "
        "lines need a locate of their own",
        source=f"{_SUBPART_P}.651(b), from memory; state one-call laws",
    ),
    CautionKey.NEAR_STRUCTURE: CautionRule(what="Distance to the nearest structure", advice=_TOO_NEAR),
    CautionKey.NEAR_LOT_LINE: CautionRule(what="Distance to the nearest lot line", advice=_TOO_NEAR),
    CautionKey.NEAR_WELL: CautionRule(what="Distance to the nearest well", advice=_TOO_NEAR),
    CautionKey.NEAR_SEPTIC: CautionRule(what="Distance to the nearest septic field", advice=_TOO_NEAR),
    CautionKey.FOOTING: CautionRule(
        what="Distance to the nearest structure",
        advice="the pit reaches below a line that falls 1 to 1 from the ground at the structure: support of the "
        "footing needs a qualified opinion",
        source=COMMON_PRACTICE,
    ),
    CautionKey.SLOPE: CautionRule(
        what="Slope of the ground", advice="steep or unstable ground may not bear more water"
    ),
    CautionKey.FILL: CautionRule(what="Filled ground", source=COMMON_PRACTICE),
    CautionKey.CONTAMINATION: CautionRule(what="Contaminated ground", source=COMMON_PRACTICE),
    CautionKey.GROUNDWATER: CautionRule(what="Depth from the base to seasonally high groundwater", advice=_TOO_SHALLOW),
    CautionKey.ROCK: CautionRule(what="Depth from the base to rock", advice=_TOO_SHALLOW),
    CautionKey.DRAWDOWN: CautionRule(what="Time to empty when full", advice="it may not be ready for the next storm"),
    CautionKey.OVERFLOW: CautionRule(what="Overflow of this storm", source=COMMON_PRACTICE),
    CautionKey.LARGER_STORMS: CautionRule(what="Storms larger than this one", source=COMMON_PRACTICE),
    CautionKey.NEIGHBOURS: CautionRule(
        what="Neighbours",
        advice="no water is directed onto neighbouring land, a street or a sewer without permission",
        source=COMMON_PRACTICE,
    ),
    CautionKey.LAW: CautionRule(
        what="Local code and licensed practice",
        advice="setbacks, sizing storms, permits and who may design or install are set there; check before design",
        source=COMMON_PRACTICE,
    ),
}
"""By the name of the rule, in the order of the work."""
