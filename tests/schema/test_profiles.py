"""Published profiles: the figures as the documents state them, and how a profile shows."""

import pytest

from screening.errors import CriteriaError
from screening.schema.criteria import (
    PROFILES,
    Criteria,
    choose_profile,
    describe,
    differences,
    from_mapping,
    profile_words,
)
from screening.units import M_PER_FT, MM_PER_IN

FT, IN = M_PER_FT, MM_PER_IN


@pytest.mark.parametrize(
    ("profile", "threshold", "published"),
    [
        # New Jersey Stormwater BMP Manual chapter 9.3 (February 2016): 0.5 to 10 in/h, factor 2, 72 h, 2 ft.
        ("new-jersey-2016", "rate_min_mm_h", 0.5 * IN),
        ("new-jersey-2016", "rate_max_mm_h", 10 * IN),
        ("new-jersey-2016", "rate_safety_factor", 2),
        ("new-jersey-2016", "drawdown_max_h", 72),
        ("new-jersey-2016", "separation_water_m", 2 * FT),
        # Virginia DEQ Specification No. 8: more than 1/2 in/h, half the measured rate, void ratio 0.4.
        ("virginia-spec-8", "rate_min_mm_h", 0.5 * IN),
        ("virginia-spec-8", "rate_safety_factor", 2),
        ("virginia-spec-8", "stone_void_frac", 0.4),
        # Minnesota Stormwater Manual: 3 ft to wet soil and bedrock, wells 100 ft, 10 ft; septic 50 ft.
        ("minnesota", "separation_water_m", 3 * FT),
        ("minnesota", "separation_rock_m", 3 * FT),
        ("minnesota", "setback_well_m", 100 * FT),
        ("minnesota", "setback_structure_m", 10 * FT),
        ("minnesota", "setback_lot_line_m", 10 * FT),
        ("minnesota", "setback_septic_m", 50 * FT),
        # Single-family dry well standard plan, July 2010: 20 %, 0.27 in/h, 10 / 50 / 25 ft, 48 h, not group D.
        ("single-family-2010", "infiltration_slope_max_pct", 20),
        ("single-family-2010", "rate_min_mm_h", 0.27 * IN),
        ("single-family-2010", "setback_structure_m", 10 * FT),
        ("single-family-2010", "setback_well_m", 50 * FT),
        ("single-family-2010", "setback_septic_m", 25 * FT),
        ("single-family-2010", "drawdown_max_h", 48),
        # Township code section 1043.16: a limiting zone 24 in or more below.
        ("model-ordinance-1043-16", "separation_water_m", 24 * IN / 1000),
        ("model-ordinance-1043-16", "separation_rock_m", 24 * IN / 1000),
        # EPA Indoor airPLUS Construction Specifications, 1.7: underground catchments 10 ft or more from foundations.
        ("indoor-air-1.7", "setback_structure_m", 10 * FT),
        # 6 NYCRR 646-4.9: 20 ft; 1.5 gal (231 cu in each) on a square foot (144 sq in).
        ("6-nycrr-646-4.9", "setback_septic_m", 20 * FT),
        ("6-nycrr-646-4.9", "capture_rain_mm", 1.5 * 231 / 144 * IN),
    ],
)
def test_figures_are_those_of_the_document(profile, threshold, published):
    assert choose_profile(profile).value(threshold) == pytest.approx(published, rel=0.003)


def test_profiles_state_only_thresholds_and_say_where_each_stands():
    assert next(iter(PROFILES)) == "neutral" and choose_profile("neutral") == Criteria()
    for name, profile in PROFILES.items():
        criteria = choose_profile(name)  # every name is a threshold, every value in range
        source = {row.name: row.source for row in describe(criteria)}
        for threshold, rule in profile.rules.items():
            assert source[threshold] == f"{profile.document}: {rule.stated}"
        for row, default in zip(describe(criteria), describe(Criteria()), strict=True):
            if row.name not in profile.rules and row.name != "profile":
                assert row == default


def test_the_neutral_set_takes_the_stricter_figure_for_storage():
    neutral = Criteria()
    for profile in map(choose_profile, PROFILES):
        assert neutral.storage.rate_min_mm_h >= profile.storage.rate_min_mm_h
        assert neutral.storage.rate_safety_factor >= profile.storage.rate_safety_factor
        assert neutral.storage.drawdown_max_h <= profile.storage.drawdown_max_h
        assert neutral.storage.separation_water_m >= profile.storage.separation_water_m
        assert neutral.storage.separation_rock_m >= profile.storage.separation_rock_m


def test_no_profile_of_a_document_that_was_not_read():
    text = " ".join([*PROFILES, *(profile.document for profile in PROFILES.values())]).lower()
    assert not any(word in text for word in ("maryland", "massachusetts", "new york", "pennsylvania"))


def test_a_file_stands_on_the_profile_it_names():
    own = from_mapping({"profile": "single-family-2010", "drawdown_max_h": 24})
    assert (own.capture.setback_well_m, own.storage.drawdown_max_h) == (15.2, 24.0)
    assert profile_words(own) == "single-family-2010, changed in drawdown_max_h"
    source = {row.name: row.source for row in describe(own)}
    assert source["drawdown_max_h"].startswith("the user's own value (single-family-2010 states 48 h, from ")
    assert source["setback_septic_m"].endswith(": 25 ft")


def test_changed_values_do_not_borrow_the_source_of_the_default():
    changed = Criteria.of(profile="county", setback_well_m=20.0, infiltration_groups=("A",))
    source = {row.name: row.source for row in describe(changed)}
    assert source["setback_well_m"] == "the user's own value (default 30.5 m, from Minnesota Stormwater Manual)"
    assert source["infiltration_groups"].startswith("the user's own value (default A, B, from group D excluded")
    assert differences(changed, Criteria()) == ["infiltration_groups", "setback_well_m"]
    assert profile_words(changed) == "county (own), differs from neutral in infiltration_groups, setback_well_m"
    assert profile_words(Criteria.of(profile="county")) == "county (own), equal to neutral"
    # A profile's rule that was set back to the default is a change too.
    back = from_mapping({"profile": "new-jersey-2016", "drawdown_max_h": 48})
    assert "states 72 h" in {row.name: row.source for row in describe(back)}["drawdown_max_h"]


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"setback_wel_m": 3}, "setback_wel_m -> setback_well_m"),
        ({"drawdown_h": 3}, "drawdown_h -> drawdown_max_h"),
        ({"zzzz": 3}, "screening criteria"),
        ({"profile": "single-family-2011"}, "use single-family-2010"),
        ({"profile": 3}, "wrong kind"),
    ],
)
def test_what_is_misspelt_is_refused_with_the_nearest_name(values, words):
    with pytest.raises(CriteriaError, match=words):
        from_mapping(values)


def test_there_is_no_other_profile():
    with pytest.raises(CriteriaError, match="neutral, new-jersey-2016"):
        choose_profile("zzzz")
    assert choose_profile("minnesota").profile == "minnesota"
