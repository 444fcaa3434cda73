from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image
from shapely.geometry import LineString, Point, Polygon, box

from screening.models import BlockResult
from screening.report.brief.lot_picture import draw_lot
from screening.report.brief.picture import Canvas
from screening.schema import styles
from screening.schema.styles import Style


def pixels(canvas: Canvas) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(canvas.jpeg())).convert("RGB")).astype(int)


def is_near(pixel: np.ndarray, color: tuple[int, int, int]) -> bool:
    return bool(np.abs(pixel - np.array(color)).max() < 20)


def test_shapes_lie_where_they_are_and_holes_stay_open() -> None:
    canvas = Canvas((100.0, 200.0, 300.0, 300.0), 400)
    ring = Polygon(box(100, 250, 180, 300).exterior, [box(120, 265, 160, 285).exterior])
    canvas.area(ring, Style(color="#aa0000", weight=1.0, fill="#aa0000", fill_opacity=1.0))
    seen = pixels(canvas)
    # 2 pixels a metre, north up: the box is the upper left, its hole in the middle of it.
    assert seen.shape == (200, 400, 3)
    assert is_near(seen[10, 10], (170, 0, 0))
    assert is_near(seen[50, 80], (214, 214, 214))
    assert is_near(seen[150, 10], (214, 214, 214))
    assert is_near(seen[10, 300], (214, 214, 214))


def test_rasters_lie_where_they_are() -> None:
    canvas = Canvas((0.0, 0.0, 20.0, 10.0), 200)
    colors = np.zeros((2, 4, 4), np.uint8)
    colors[0, 3] = (0, 0, 200, 255)
    canvas.raster(colors, (0.0, 0.0, 20.0, 10.0))
    seen = pixels(canvas)
    assert is_near(seen[25, 175], (0, 0, 200))
    assert is_near(seen[75, 175], (214, 214, 214))
    assert is_near(seen[25, 75], (214, 214, 214))


def test_a_dashed_line_has_gaps_and_words_stay_inside() -> None:
    canvas = Canvas((0.0, 0.0, 100.0, 40.0), 400)
    canvas.line(LineString([(0, 20), (100, 20)]), Style(color="#000000", weight=3.0, dash="10 10"))
    row = pixels(canvas)[80, :, 0]
    assert 0.3 < float((row < 100).mean()) < 0.7
    canvas.words("A long name at the very edge", Point(100, 40), size_px=20)
    canvas.words("x" * 200, Point(0, 0))
    assert pixels(canvas).shape == (160, 400, 3)


def test_the_lot_is_drawn_with_what_is_on_it(tiny_result: BlockResult) -> None:
    shot = draw_lot(tiny_result, "A-1", caption="Water stands")
    image = Image.open(io.BytesIO(shot.jpeg))
    assert image.format == "JPEG" and image.size == (shot.width_px, shot.height_px)
    assert 0.44 < shot.height_px / shot.width_px < 0.63
    seen = np.asarray(image.convert("RGB")).astype(int)
    brown = tuple(int(styles.EXPOSURE_STYLES["ponding"].fill[i : i + 2], 16) for i in (1, 3, 5))
    assert (np.abs(seen - np.array(brown)).max(axis=2) < 40).mean() > 0.005
    assert shot.alt.startswith("Map of lot A-1") and shot.alt.endswith("Water stands")
    assert shot.jpeg == draw_lot(tiny_result, "A-1", caption="Water stands").jpeg


@pytest.mark.parametrize(("units", "word"), [("metric", "20 m"), ("us", "50 ft")])
def test_the_scale_bar_is_a_round_length(tiny_result: BlockResult, units: str, word: str) -> None:
    from screening.report.brief.lot_picture import _scale

    canvas = Canvas((0.0, 0.0, 90.0, 45.0), 900)
    length_m, words = _scale(canvas, units)  # type: ignore[arg-type]
    assert words == word
    assert length_m <= 90.0 / 4


def test_north_is_up_where_the_grid_says_so(tiny_result: BlockResult) -> None:
    from screening.report.brief.lot_picture import _north_deg

    # 500 km east is the middle of the zone, where grid north is true north.
    assert _north_deg(tiny_result, tiny_result.summary.geometry.iloc[0]) == pytest.approx(0.0, abs=0.01)
