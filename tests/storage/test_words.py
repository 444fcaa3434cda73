"""Words of storage, drains and routes: every code has its own."""

import pytest

from screening.report.words.hydraulics import reason_words
from screening.report.words.routes import ROUTE_WORDS, end_words, outfall_words
from screening.report.words.storage import advice_words, quantity_basis, rain_distribution, rate_basis
from screening.schema.codes.capture import RateBasis, RouteEnd
from screening.schema.codes.hydraulics import CheckReason
from screening.schema.codes.outfall import Outfall, RouteReason
from screening.schema.codes.storage import CautionKey, Known, PitSides, QuantityKind, RainDistribution
from screening.storage.caution_rules import CAUTION_RULES
from screening.storage.ranges import Range, exactly

FACTS = {
    CheckReason.GRATE_STATE: (("depth_m", 0.025), ("law", "weir"), ("clogged_frac", 0.5)),
    CheckReason.STANDS_ABOVE_GRATE: (("from_m", 0.0), ("to_m", 1.26)),
    CheckReason.SLOPE_FOR_INFLOW: (("slope_frac", 0.0123),),
    CheckReason.CLASS_FOR_USE: (("use", "cars"), ("load_class", "B125")),
    CheckReason.RUNS_TO: (("outfall", Outfall.ZONE), ("zone_id", "IZ-1")),
}


def test_every_reason_of_a_check_is_said_in_words_of_its_own():
    said = [reason_words((reason,), FACTS.get(reason, ())) for reason in CheckReason]
    assert all(said) and len(set(said)) == len(said)
    assert reason_words(()) == ""


def test_numbers_stand_in_the_words_of_checks():
    assert reason_words((CheckReason.GRATE_STATE,), FACTS[CheckReason.GRATE_STATE]) == (
        "under 25 mm of standing water, as weir, 50% clogged"
    )
    above = reason_words((CheckReason.STANDS_ABOVE_GRATE,), FACTS[CheckReason.STANDS_ABOVE_GRATE])
    assert above.endswith("water stands above the grate from 0.0 to 1.3 m")
    slope = reason_words((CheckReason.SLOPE_FOR_INFLOW,), FACTS[CheckReason.SLOPE_FOR_INFLOW])
    assert slope == "slope for the inflow when full: 1.23 %"
    assert reason_words((CheckReason.NEVER_EMPTIES, CheckReason.RATE_NOT_MEASURED)) == (
        "it never empties through the ground; the rate was not measured on site"
    )


def test_every_route_end_and_outfall_is_said():
    assert set(ROUTE_WORDS) == set(RouteReason)
    assert [end_words(end, "X") for end in RouteEnd] == [
        "",
        "zone X",
        "the walls of X",
        "low spot X",
        "ground off the lot",
        "the edge of the window",
    ]
    assert [outfall_words(outfall, "IZ-2") for outfall in Outfall] == [
        "daylight at the street",
        "daylight on the lot",
        "zone IZ-2",
        "",
    ]


@pytest.mark.parametrize("key", list(CautionKey))
def test_every_rule_is_declared_and_advises(key):
    assert CAUTION_RULES[key].what
    assert advice_words(key, Known.NOT_KNOWN, RouteEnd.NONE, "")


def test_rates_rain_and_quantities_are_said():
    assert rate_basis(RateBasis.UNKNOWN, "unknown") == "not assessed: neither group nor conductivity is known"
    assert rate_basis(RateBasis.URBAN_GROUP, "A, B").startswith("group A, B of urban soil")
    assert rain_distribution(RainDistribution.NESTED, 24.0) == "nested blocks over 24 h, from the rainfall table"
    assert rain_distribution(RainDistribution.UNIFORM, 0.5) == "uniform over 0.5 h"
    assert quantity_basis(QuantityKind.EXCAVATION, Range(0.0, 0.5), PitSides.UNKNOWN) == (
        "sides 0 to 1.5 horizontal to 1 vertical (unknown; OSHA 1926 Subpart P, from memory); 0 to 0.5 m working room"
    )
    assert quantity_basis(QuantityKind.STONE_MASS, exactly(1.5), None) == "1.5 t/m3"
    others = set(QuantityKind) - {QuantityKind.EXCAVATION}
    assert all(quantity_basis(kind, exactly(1.0), None) for kind in others)
