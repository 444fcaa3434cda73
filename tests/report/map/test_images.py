from __future__ import annotations

import base64
import io

import numpy as np
import pytest
from PIL import Image

from screening.errors import OutputError
from screening.grid import Grid
from screening.report.map.images import (
    MAX_SIDE_PX,
    PageImage,
    depth_image,
    exaggeration_of,
    picture_shape,
    relief_image,
    shade_relief,
    warp_to_page,
)

GRID = Grid(crs="EPSG:26917", west_m=500_000.0, north_m=4_400_000.0, cell_m=1.0, n_rows=30, n_cols=50)
COLORS = ("#a9d3ee", "#2f7fc0", "#082f66")


def open_image(shot: PageImage) -> Image.Image:
    return Image.open(io.BytesIO(base64.b64decode(shot.url.split(",")[1])))


def test_flat_ground_has_one_tone() -> None:
    shade = shade_relief(np.full((5, 7), 3.0, np.float32), 1.0, exaggeration=1.0)
    np.testing.assert_allclose(shade, 214.0, atol=1e-3)


def test_ground_that_faces_the_north_west_is_lighter_than_its_back() -> None:
    row, col = np.mgrid[0:9, 0:11].astype(np.float32)
    lit = shade_relief((row + col) * 0.1, 1.0, exaggeration=1.0)
    dark = shade_relief(-(row + col) * 0.1, 1.0, exaggeration=1.0)
    assert lit.mean() > 214.0 > dark.mean()


def test_a_gap_stays_a_gap() -> None:
    ground = np.zeros((6, 8), np.float32)
    ground[2, 3] = np.nan
    assert np.isnan(shade_relief(ground, 1.0, exaggeration=1.0)[2, 3])


@pytest.mark.parametrize(("fall", "times"), [(0.0, 1.0), (0.05, 8.0), (0.25, 2.0), (1.0, 1.0)])
def test_gentle_ground_is_stretched(fall: float, times: float) -> None:
    ground = (np.mgrid[0:8, 0:10][1] * fall).astype(np.float32)
    assert exaggeration_of(ground, 1.0) == times


@pytest.mark.parametrize(
    ("width", "height", "n_cells", "expected"),
    [
        (10.0, 5.0, 10, (40, 20)),
        (1000.0, 500.0, 1000, (1400, 700)),
        (1800.0, 900.0, 1800, (1800, 900)),
        (9000.0, 3000.0, 9000, (MAX_SIDE_PX, 683)),
    ],
)
def test_picture_size(width: float, height: float, n_cells: int, expected: tuple[int, int]) -> None:
    assert picture_shape(width, height, n_cells) == expected


def test_a_large_window_is_clamped() -> None:
    grid = Grid(crs="EPSG:26917", west_m=500_000.0, north_m=4_400_000.0, cell_m=1.0, n_rows=300, n_cols=3000)
    rng = np.random.default_rng(1)
    shot = relief_image(rng.normal(0, 0.3, grid.shape).astype(np.float32), grid)
    assert max(shot.width_px, shot.height_px) == MAX_SIDE_PX
    assert len(shot.url) < 2_500_000


def test_bounds_hold_the_grid() -> None:
    from pyproj import Transformer

    _, ((south, west), (north, east)) = warp_to_page(np.zeros(GRID.shape, np.float32), GRID, is_smooth=True)
    to_degrees = Transformer.from_crs(GRID.crs, "EPSG:4326", always_xy=True)
    left, bottom, right, top = to_degrees.transform_bounds(*GRID.bounds)
    np.testing.assert_allclose((south, west, north, east), (bottom, left, top, right), atol=2e-6)


def test_relief_is_webp_and_clear_where_nothing_is_known() -> None:
    ground = np.zeros(GRID.shape, np.float32)
    ground[:, :25] = np.nan
    shot = relief_image(ground, GRID)
    assert shot.url.startswith("data:image/webp;base64,")
    alpha = np.asarray(open_image(shot).convert("RGBA"))[..., 3]
    assert (alpha[:, 5:80] == 0).all()
    assert (alpha[5:-5, 120:-5] == 255).all()


def test_depth_classes_have_their_colours() -> None:
    depth = np.zeros(GRID.shape, np.float32)
    depth[10:20, 5:15], depth[10:20, 20:30], depth[10:20, 35:45] = 0.1, 0.3, 0.9
    depth[0, 0] = np.nan
    shot = depth_image(depth, GRID, breaks_m=(0.2, 0.5), colors=COLORS)
    assert shot.url.startswith("data:image/png;base64,")
    picture = np.asarray(open_image(shot).convert("RGBA"))
    scale = shot.width_px / GRID.n_cols
    for col, color in ((10, COLORS[0]), (25, COLORS[1]), (40, COLORS[2])):
        red, green, blue, alpha = picture[int(15 * scale), int(col * scale)].tolist()
        assert (f"#{red:02x}{green:02x}{blue:02x}", alpha) == (color, 255)
    assert picture[int(15 * scale), int(17 * scale), 3] == 0
    assert picture[2, 2, 3] == 0


def test_the_deepest_cell_survives_shrinking() -> None:
    grid = Grid(crs="EPSG:26917", west_m=500_000.0, north_m=4_400_000.0, cell_m=1.0, n_rows=300, n_cols=4200)
    depth = np.zeros(grid.shape, np.float32)
    depth[101, 2003] = 0.9
    picture = np.asarray(open_image(depth_image(depth, grid, breaks_m=(0.2, 0.5), colors=COLORS)))
    assert picture.max() == 3


def test_classes_that_do_not_fit_are_refused() -> None:
    with pytest.raises(OutputError):
        depth_image(np.zeros(GRID.shape, np.float32), GRID, breaks_m=(0.5, 0.2), colors=COLORS)
    with pytest.raises(OutputError):
        depth_image(np.zeros(GRID.shape, np.float32), GRID, breaks_m=(0.5,), colors=COLORS)
