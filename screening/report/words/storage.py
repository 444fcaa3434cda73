"""Words of buried storage: what its rates and quantities rest on, how rain is spread, and cautions of the site."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from screening.report.words.routes import end_words
from screening.schema.codes.capture import RateBasis, RouteEnd
from screening.schema.codes.storage import CautionKey, Known, PitSides, QuantityKind, RainDistribution
from screening.schema.criteria import Criteria
from screening.storage.caution_rules import CAUTION_RULES
from screening.storage.cautions import SiteCaution
from screening.storage.quantities import SIDE_SLOPES
from screening.storage.ranges import Range
from screening.units import UnitSystem, format_value

if TYPE_CHECKING:
    from screening.report.words import Teller

RATE_UNKNOWN = "neither group nor conductivity is known"
_KNOWN = {
    Known.NOT_KNOWN: "not known; ask for the history of the ground",
    Known.REPORTED: "reported here",
    Known.NONE_REPORTED: "none reported",
}


def rate_basis(rate_from: RateBasis, hsg: str) -> str:
    """Say where infiltration rates come from; `hsg` names the groups of the ground."""
    if rate_from == RateBasis.UNKNOWN:
        return f"not assessed: {RATE_UNKNOWN}"
    if rate_from == RateBasis.CONDUCTIVITY:
        return "conductivity of the soils layer, not measured on site"
    return f"group {hsg} of urban soil (Minnesota Stormwater Manual, after Rawls 1998), not measured on site"


def rain_distribution(distribution: RainDistribution, hours: float) -> str:
    """Say how rain is spread over its hours."""
    words = f"{distribution} over {hours:g} h"
    return f"{words}, from the rainfall table" if distribution == RainDistribution.NESTED else words


def quantity_basis(kind: QuantityKind, assumed: Range, sides: PitSides | None) -> str:
    """Say what a quantity rests on."""
    span = _span(assumed)
    if kind == QuantityKind.EXCAVATION:
        return f"{_side_words(PitSides(sides or PitSides.UNKNOWN))}; {span} m working room"
    return {
        QuantityKind.SPOIL: f"bulked {span} times; from the rest put back to all taken away",
        QuantityKind.TRUCKLOADS: f"{span} m3 to a load",
        QuantityKind.STONE: f"{span} times the place it fills",
        QuantityKind.STONE_MASS: f"{span} t/m3",
        QuantityKind.FABRIC: f"{span} times the surface, for laps",
        QuantityKind.PIPE: f"{span} times the run",
        QuantityKind.RESTORATION: f"the opening and {span} m around it",
    }[kind]


def _side_words(sides: PitSides) -> str:
    if sides is PitSides.UPRIGHT:
        return "upright sides, which need shoring or a shield where people enter"
    slope = _span(SIDE_SLOPES[sides])
    return f"sides {slope} horizontal to 1 vertical ({sides}; OSHA 1926 Subpart P, from memory)"


def _span(values: Range) -> str:
    return f"{values.low:g}" if values.low == values.high else f"{values.low:g} to {values.high:g}"


def advice_words(key: CautionKey, known: Known, overflow_end: RouteEnd, overflow_id: str) -> str:
    """Say what follows from a caution; the last three as `SiteCaution` has them."""
    goes = "where it goes is not shown yet"
    if overflow_end:
        goes = f"it goes to {end_words(overflow_end, overflow_id)}"
    if key in (CautionKey.FILL, CautionKey.CONTAMINATION):
        return f"{_KNOWN[known]}; water is kept away from it unless a qualified professional agrees"
    if key == CautionKey.OVERFLOW:
        return goes
    if key == CautionKey.LARGER_STORMS:
        return f"their overflow needs a safe way; {goes}"
    return CAUTION_RULES[key].advice


def caution_words(caution: SiteCaution, units: UnitSystem = "metric") -> str:
    """Write a caution for a reader, its number first.

    Examples
    --------
    >>> from screening.storage.cautions import SiteFacts, site_cautions
    >>> facts = SiteFacts(pit_depth_m=1.6, base_depth_m=1.6, drawdown_h=30.0, overflow_m3=0.0)
    >>> caution_words(site_cautions(facts, criteria=Criteria())[0])[:54]
    'Depth of the excavation: 1.60 m (threshold 1.52 m): a '
    """
    advice = advice_words(caution.key, caution.known, caution.overflow_end, caution.overflow_id)
    source = f" [{caution.source}]."
    if caution.limit is None:
        return f"{caution.what}: {advice}{source}"
    value, limit = (_number(number, caution.unit, units) for number in (caution.value, caution.limit))
    if caution.is_triggered:
        return f"{caution.what}: {value} (threshold {limit}): {advice}{source}"
    left = "to be settled before design" if caution.value is None else "not set off"
    return f"{caution.what}: {value} (threshold {limit}, {caution.key}): {left}{source}"


def _number(value: float | None, unit: str, units: UnitSystem) -> str:
    if value is None:
        return "not known"
    if unit == "h":
        return "no end" if value == float("inf") else f"{value:.0f} h"
    return format_value(value, unit, units)


def _basis(row: Any, criteria: Criteria, units: UnitSystem) -> str:
    return quantity_basis(row["quantity"], row["assumed"], row["sides"])


def _advice(row: Any, criteria: Criteria, units: UnitSystem) -> str:
    return advice_words(row["key"], row["known"], row["overflow_end"], row["overflow_id"])


TELLERS: dict[tuple[str, str], Teller] = {
    ("quantities", "basis"): _basis,
    ("site_cautions", "advice"): _advice,
}
"""What tells each sentence, by table and column."""
