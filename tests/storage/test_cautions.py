import dataclasses
from types import SimpleNamespace

import pandas as pd
import pytest

from screening.report.cautions import CAUTIONS, all_cautions
from screening.report.words.storage import caution_words
from screening.schema.codes.capture import RouteEnd
from screening.schema.criteria import Criteria, choose_profile
from screening.storage.cautions import SiteFacts, site_cautions

FT = 0.3048
QUIET = SiteFacts(
    pit_depth_m=1.0,
    base_depth_m=1.0,
    drawdown_h=20.0,
    overflow_m3=0.0,
    overflow_end=RouteEnd.LOW_SPOT,
    overflow_id="LS-1",
    structure_m=8.0,
    lot_line_m=5.0,
    well_m=60.0,
    septic_m=30.0,
    slope_pct=4.0,
    water_depth_m=3.0,
    rock_depth_m=3.0,
    is_filled=False,
    is_contaminated=False,
)


def triggered(criteria=None, **facts):
    found = site_cautions(dataclasses.replace(QUIET, **facts), criteria=criteria or Criteria())
    return [caution.key for caution in found if caution.is_triggered]


@pytest.mark.parametrize(
    ("pit_ft", "keys"),
    # OSHA 29 CFR 1926.651 and .652: 4 ft way out, more than 4 ft air, 5 ft protection, more than 20 ft an engineer.
    [
        (3.9, []),
        (4.0, ["way out"]),
        (4.1, ["atmosphere", "way out"]),
        (4.99, ["atmosphere", "way out"]),
        (5.0, ["protective system", "atmosphere", "way out"]),
        (20.0, ["protective system", "atmosphere", "way out"]),
        (20.1, ["engineer", "protective system", "atmosphere", "way out"]),
    ],
)
def test_depths_of_excavation(pit_ft, keys):
    assert triggered(pit_depth_m=pit_ft * FT, structure_m=50.0) == keys


@pytest.mark.parametrize(
    ("facts", "key"),
    [
        ({"structure_m": 3.0}, "near structure"),
        ({"lot_line_m": 3.0}, "near lot line"),
        ({"well_m": 30.0}, "near well"),
        ({"septic_m": 15.0}, "near septic field"),
        ({"pit_depth_m": 3.5, "structure_m": 3.4, "base_depth_m": 1.0}, "footing"),
        ({"slope_pct": 20.1}, "slope"),
        ({"is_filled": True}, "fill"),
        ({"is_contaminated": True}, "contamination"),
        ({"water_depth_m": 1.9}, "groundwater"),
        ({"rock_depth_m": 1.9}, "rock"),
        ({"drawdown_h": 48.1}, "drawdown"),
        ({"drawdown_h": float("inf")}, "drawdown"),
        ({"overflow_m3": 0.1}, "overflow"),
    ],
)
def test_numbers_of_the_site_set_their_caution_off(facts, key):
    assert triggered() == []
    assert key in triggered(**facts)
    if "pit_depth_m" not in facts:
        assert triggered(**facts) == [key]


def test_at_the_threshold_a_distance_is_kept():
    criteria = Criteria()
    assert triggered(structure_m=criteria.capture.setback_structure_m, well_m=criteria.capture.setback_well_m) == []
    assert triggered(drawdown_h=48.0, slope_pct=20.0, water_depth_m=1.914, rock_depth_m=1.914) == []


def test_what_is_not_known_sets_nothing_off_and_is_said():
    names = ("structure_m", "lot_line_m", "well_m", "septic_m", "slope_pct", "water_depth_m", "rock_depth_m")
    unknown = dict.fromkeys((*names, "is_filled", "is_contaminated"))
    facts = dataclasses.replace(QUIET, overflow_end=RouteEnd.NONE, **unknown)
    found = {caution.key: caution_words(caution) for caution in site_cautions(facts, criteria=Criteria())}
    assert triggered(**unknown) == []
    for key in ("near structure", "near well", "footing", "slope", "groundwater", "rock", "fill", "contamination"):
        assert "not known" in found[key], key
    assert "where it goes is not shown yet" in found["larger storms"]
    known = {caution.key: caution_words(caution) for caution in site_cautions(QUIET, criteria=Criteria())}
    assert "their overflow needs a safe way; it goes to low spot LS-1" in known["larger storms"]
    assert "(threshold 30.50 m, near well): to be settled before design" in found["near well"]
    assert "1.00 m (threshold 1.52 m, protective system): not set off" in found["protective system"]


def test_the_profile_moves_the_thresholds():
    assert triggered(well_m=20.0) == ["near well"]
    plan = choose_profile("single-family-2010")
    assert triggered(criteria=plan, well_m=20.0) == []
    found = site_cautions(QUIET, criteria=plan)
    assert next(caution for caution in found if caution.key == "near well").source.endswith("July 2010: 50 ft")


def test_those_set_off_come_first_with_their_number_threshold_and_source():
    facts = dataclasses.replace(QUIET, pit_depth_m=5.2 * FT, well_m=20.0)
    found = site_cautions(facts, criteria=Criteria())
    marks = [caution.is_triggered for caution in found]
    assert marks == sorted(marks, reverse=True) and marks.count(True) == 4
    assert caution_words(found[0], "us") == (
        "Depth of the excavation: 5.2 ft (threshold 5.0 ft): a protective system is needed (slopes, shoring or a "
        "shield), stable rock excepted; in less depth too, unless a competent person finds no sign of a cave-in "
        "[OSHA 29 CFR 1926.652(a)(1)]."
    )
    assert caution_words(found[3]).startswith("Distance to the nearest well: 20.00 m (threshold 30.50 m): ")
    rows = [{"storage_id": "ST-1", "lot_id": "A-1"} | dataclasses.asdict(caution) for caution in found]
    result = SimpleNamespace(capture=SimpleNamespace(cautions=pd.DataFrame(rows)))
    words = all_cautions(result, "us")
    assert words[0] == "Storage ST-1: " + caution_words(found[0], "us") and words[4:] == CAUTIONS


def test_every_point_of_the_list_is_there():
    keys = {caution.key for caution in site_cautions(QUIET, criteria=Criteria())}
    assert keys >= {
        "engineer",
        "protective system",
        "atmosphere",
        "way out",
        "spoil",
        "inspection",
        "utilities",
        "fill",
        "contamination",
        "neighbours",
        "overflow",
        "law",
    }
    text = " ".join(caution_words(caution) for caution in site_cautions(QUIET, criteria=Criteria()))
    for paragraph in ("651(c)(2)", "651(g)(1)", "652(a)(1)", "651(j)(2)", "1053(b)(1)", "651(k)(1)", "651(b)"):
        assert paragraph in text
    assert "you must" not in text and "danger" not in text.lower()
