import base64
import gzip
import json
import re

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from screening.batch.page import STEPS_PER_M, lots_page, pack_shapes
from screening.schema.columns import batch_columns
from tests.blocks import CRS
from tests.report.browser.conftest import browser  # noqa: F401 a fixture


def lots(n):
    side = int(np.ceil(np.sqrt(n)))
    x, y = np.arange(n) % side * 40.0 + 5e5, np.arange(n) // side * 50.0 + 4.4e6
    values = {column.name: ("" if column.is_text else 0.0) for column in batch_columns()}
    frame = pd.DataFrame({name: [value] * n for name, value in values.items()})
    frame["lot_id"] = [f"L-{number}" for number in range(n)]
    frame["status"], frame["visit_score"] = "assessed", np.linspace(30, 0, n)
    frame["visit_rank"] = pd.Series(range(1, n + 1), dtype="Int64")
    return gpd.GeoDataFrame(frame, geometry=shapely.box(x, y, x + 30, y + 40), crs=CRS)


def unpack(packed, origin, n):
    """Shapes from packed numbers, as the page's script reads them."""
    at, point, shapes = 0, np.zeros(2), []
    for _ in range(n):
        n_rings, at, rings = packed[at], at + 1, []
        for _ in range(n_rings):
            n_points, at = packed[at], at + 1
            steps = packed[at : at + 2 * n_points].reshape(-1, 2)
            at += 2 * n_points
            points = point + np.cumsum(steps, axis=0)
            point = points[-1]
            rings.append(points / STEPS_PER_M + origin)
        shapes.append(shapely.Polygon(rings[0], rings[1:]) if rings else None)
    assert at == packed.size
    return shapes


def test_shapes_survive_packing_to_the_decimetre():
    holed = shapely.box(0, 0, 30, 20).difference(shapely.box(5, 5, 9.04, 9))
    shapes = np.array([holed, None, shapely.box(-100.26, 3, -90, 7)], dtype=object)
    packed, origin = pack_shapes(shapes)
    found = unpack(packed, origin, 3)
    assert found[1] is None
    for before, after in ((shapes[0], found[0]), (shapes[2], found[2])):
        assert before.hausdorff_distance(after) <= 0.5 / STEPS_PER_M * np.sqrt(2)
        assert len(before.interiors) == len(after.interiors)


def test_the_page_is_one_file_that_asks_for_nothing_and_runs_no_id():
    frame = lots(3)
    frame.loc[0, "lot_id"] = "</script><img src=x onerror=alert(1)>"
    page = lots_page(frame, title="<b>town</b>")
    assert "onerror" not in page and "<b>town" not in page
    assert not re.search(r"https?://", page)
    table = json.loads(gzip.decompress(base64.b64decode(re.search(r'id="table">([^<]*)<', page)[1])))
    assert table["n"] == 3 and table["words"]["lot_id"]["texts"][0].startswith("</script>")
    assert page == lots_page(frame, title="<b>town</b>")


def test_100_000_lots_fit_a_page():
    assert len(lots_page(lots(100_000), title="many")) < 8e6


@pytest.mark.browser
def test_map_and_table_are_linked(browser, tmp_path):  # noqa: F811
    path = tmp_path / "lots.html"
    path.write_text(lots_page(lots(2000), title="many"), encoding="utf-8")
    page = browser.new_page()
    problems = []
    page.on("console", lambda message: problems.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: problems.append(str(error)))
    page.goto(path.as_uri())
    page.wait_for_selector("body[data-ready=yes]")
    assert page.text_content("#count") == "2,000 of 2,000 lots"
    assert 5 < page.locator(".row").count() < 100
    page.fill("#text", "L-1999")
    assert page.text_content("#count") == "1 of 2,000 lots"
    page.click(".row")
    assert "L-1999" in page.text_content("#detail")
    page.locator("#map").click()  # the chosen lot is amid the map: what is clicked is the lot itself
    assert "L-1999" in page.text_content("#detail")
    assert page.locator(".row.chosen").count() == 1
    page.fill("#text", "")
    page.evaluate("document.getElementById('rows').scrollTop = 9000")
    page.fill("#text", "L-1")
    assert page.evaluate("document.getElementById('rows').scrollTop") == 0
    page.focus("#rows")
    for key in ("ArrowDown", "ArrowUp", "ArrowUp", "ArrowDown"):
        page.keyboard.press(key)
    # The chosen L-1999 is the last of those whose id begins so: there is none below it.
    chosen = page.locator(".row.chosen")
    assert chosen.count() == 1 and chosen.is_visible()
    assert chosen.locator("span").nth(1).text_content() == "L-1998"
    assert "L-1998" in page.text_content("#detail")
    assert problems == []
