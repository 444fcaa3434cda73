import pytest

from screening.errors import InputError
from screening.hydraulics.drain_site import DRAIN_CAUTIONS, DrainSite, check_site
from screening.hydraulics.rows import CheckRow
from screening.schema.codes.verdicts import Operator
from screening.schema.criteria import Criteria
from tests.hydraulics.us import FT, IN

EGRESS, PROTECTION, LOAD, OVERFLOW, PERMISSION = range(5)


def outcomes(site, channel_depth_m=0.4):
    return [row.outcome for row in check_site(site, channel_depth_m=channel_depth_m, criteria=Criteria())]


@pytest.mark.parametrize(
    ("depth_ft", "egress", "protection"),
    [
        # 29 CFR 1926.651(c)(2): 4 ft or more; 1926.652(a)(1): 5 ft or more.
        (22 / 12, "passed", "passed"),
        (3.99, "passed", "passed"),
        (4.0, "failed", "passed"),
        (4.99, "failed", "passed"),
        (5.0, "failed", "failed"),
    ],
)
def test_depth_of_the_cut(depth_ft, egress, protection):
    found = outcomes(DrainSite(cut_depth_m=depth_ft * FT))
    assert (found[EGRESS], found[PROTECTION]) == (egress, protection)


def test_a_channel_alone_tells_only_the_least_depth_of_the_cut():
    assert outcomes(DrainSite(), 14.5 * IN)[:2] == ["not assessed", "not assessed"]
    assert outcomes(DrainSite(), 4.5 * FT)[:2] == ["failed", "not assessed"]


def test_nothing_known_is_nothing_passed():
    assert set(outcomes(DrainSite())) == {"not assessed"}


@pytest.mark.parametrize(
    ("use", "load_class", "outcome"),
    [
        # EN 1433, from memory: A15 for walkers, B125 for cars, D400 for roads and lorries.
        ("walking", "A15", "passed"),
        ("cars", "A15", "failed"),
        ("cars", "B125", "passed"),
        ("trucks", "C250", "failed"),
        ("trucks", "D400", "passed"),
        ("cars", None, "not assessed"),
        (None, "F900", "not assessed"),
    ],
)
def test_load_by_the_owners_use(use, load_class, outcome):
    assert outcomes(DrainSite(use=use, load_class=load_class))[LOAD] == outcome


@pytest.mark.parametrize(("known", "outcome"), [(True, "passed"), (False, "failed"), (None, "not assessed")])
def test_overflow_and_permission(known, outcome):
    found = outcomes(DrainSite(has_overflow_path=known, has_discharge_permission=known))
    assert (found[OVERFLOW], found[PERMISSION]) == (outcome, outcome)


def test_the_source_of_the_overflow_path_is_named():
    row = check_site(DrainSite(), channel_depth_m=0.4, criteria=Criteria())[OVERFLOW]
    assert "p. 4-56" in row.source and "clog" in row.source
    assert any("walkways" in line and "no published source" in line for line in DRAIN_CAUTIONS.values())


@pytest.mark.parametrize(
    ("more", "words"),
    [({"use": "tanks"}, "walking, cars, trucks"), ({"load_class": "Z9"}, "A15"), ({"cut_depth_m": 0}, "cut")],
)
def test_unknown_words_are_refused(more, words):
    with pytest.raises(InputError, match=words):
        DrainSite(**more)


@pytest.mark.parametrize(
    ("value", "operator", "is_lower_bound", "outcome"),
    [
        (1.0, "<", False, "failed"),
        (1.0, "<=", False, "passed"),
        (1.0, ">=", False, "passed"),
        (1.0, "==", False, "passed"),
        (0.5, "<", True, "not assessed"),
        (1.5, "<", True, "failed"),
        (0.5, ">=", True, "not assessed"),
        (1.5, ">=", True, "passed"),
        (None, "<", False, "not assessed"),
        (float("nan"), ">=", False, "not assessed"),
    ],
)
def test_outcome_follows_from_the_comparison(value, operator, is_lower_bound, outcome):
    row = CheckRow(
        check="It holds",
        statistic="x_m",
        value=value,
        operator=Operator(operator),
        threshold=1.0,
        unit="m",
        source="by hand",
        is_lower_bound=is_lower_bound,
    )
    assert row.outcome == outcome
