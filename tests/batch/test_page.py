import base64
import gzip
import json
import re

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from screening.batch.page import STEPS_PER_M, lots_page, pack_shapes
from screening.schema.columns import batch_columns
from tests.blocks import CRS


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
