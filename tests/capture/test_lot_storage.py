"""Whether anything works on a lot, and why not, in the summary and in every page for readers."""

import html

import pytest

from screening.pipeline import screen_block
from screening.report.map.page import build_map
from screening.report.terminal import summarize
from screening.report.visit.page import visit_page
from screening.report.visit.sheet import visit_rows
from tests.blocks import box, make_block
from tests.capture.test_plan import CLAY, CRITERIA, RAIN, ROW, SHAPE, improvements, pond, sand_at, screen


def test_a_lot_where_nothing_works_says_so_and_why():
    on_clay = screen(pond(0.05))
    assert improvements(on_clay)[0] == "none found"
    assert improvements(on_clay)[1].startswith("no ground may take water: soil group not a candidate 100%")
    assert on_clay.capture.options.empty
    uphill = screen(pond(0.05), soils=sand_at(3, 10))
    assert improvements(uphill) == (
        "none found",
        "ground may take water, but water of the only collection point does not get there by gravity: "
        "the zone lies uphill (1 of 1 pipe routes)",
    )
    dry = screen(50 - 0.05 * ROW, soils=sand_at(45, 52))
    assert improvements(dry) == ("none found", "ground may take water, but no place to catch any was found")
    unknown = screen(pond(0.05), soils=[(*CLAY, box(0, 0, *SHAPE)), ("3", "unknown", box(45, 10, 52, 30))])
    assert improvements(unknown) == ("not assessed", "neither group nor conductivity is known")
    nothing_given = screen_block(make_block(pond(0.05)), criteria=CRITERIA, rain=RAIN)
    assert improvements(nothing_given)[0] == "not assessed"


def test_a_route_through_unknown_ground_is_not_assessed():
    elev = pond(0.05)
    elev[30:42, :] = float("nan")  # from side to side of the lot
    found = screen(elev, soils=sand_at(45, 52))
    assert improvements(found) == (
        "not assessed",
        "ground may take water, but water of the only collection point does not get there by gravity: "
        "ground without elevation lies on the way (1 of 1 pipe routes)",
    )


@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_page_says_it(units):
    uphill = screen(pond(0.05), soils=sand_at(3, 10))
    status, why = improvements(uphill)
    for page in (build_map(uphill, units=units), visit_page(uphill, units=units)):
        assert why in html.unescape(page)
    text = " ".join(summarize(uphill, units=units).split())
    assert f"Storage: {status}: {why[:60]}" in text
    (asked,) = [row for row in visit_rows(uphill, units) if row["why"].startswith("storage on the lot: ")]
    assert asked["why"] == f"storage on the lot: {status}: {why}"
    assert asked["part"] == "question"
    fits = screen(pond(0.05), soils=sand_at(45, 52))
    assert not [row for row in visit_rows(fits, units) if row["why"].startswith("storage on the lot: ")]
