"""Land cover rasters and polygons as covers of cells, and what is said of them."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from click.testing import CliRunner
from pyproj import Transformer

from screening.commands.main import cli
from screening.errors import InputError
from screening.grid import Grid
from screening.inputs import inspect_inputs, load_block, open_site
from screening.inputs.raster.cover_classes import read_classes
from screening.inputs.raster.land_cover import load_land_cover
from screening.models import SiteRequest
from screening.report.words.notes import note_words
from screening.schema.covers import CODE_OF
from tests.inputs.files import N_COLS, N_ROWS, NORTH, UTM, WEST, square, terrain, write_layer, write_raster

GRID = Grid(crs=UTM, west_m=WEST, north_m=NORTH, cell_m=1.0, n_rows=N_ROWS, n_cols=N_COLS)


def _request(folder: Path, cover: str | Path, **fields: object) -> SiteRequest:
    return SiteRequest(elevation=folder / "elev.tif", land_cover=str(cover), **fields)  # type: ignore[arg-type]


def _classes(path: Path, values: list[list[int]], *, size: float = 5.0, west: float = WEST, **options: object) -> Path:
    pixels = np.array(values, np.uint8)
    transform = Affine(size, 0, west, 0, -size, NORTH)
    return write_raster(path, pixels, transform=transform, unit=None, **options)  # type: ignore[arg-type]


def test_a_raster_gives_each_cell_the_class_under_its_centre(tmp_path: Path) -> None:
    path = _classes(tmp_path / "cover.tif", [[41, 81, 11], [21, 41, 95]])
    codes, notes = load_land_cover(_request(tmp_path, path), GRID)
    names = [["woods, good", "pasture, good", "water"], ["developed, open", "woods, good", "wetland"]]
    for row in range(N_ROWS):
        for col in range(N_COLS):
            assert codes[row, col] == CODE_OF[names[row // 5][col // 5]]
    assert [note.kind for note in notes] == ["assumed"] and "National Land Cover" in note_words(notes[0])


def test_what_a_raster_does_not_know_is_a_lawn_and_noted(tmp_path: Path) -> None:
    path = _classes(tmp_path / "cover.tif", [[41, 7, 0]], nodata=0)
    codes, notes = load_land_cover(_request(tmp_path, path), GRID)
    assert (codes[:5, :5] == CODE_OF["woods, good"]).all() and not codes[:, 5:].any() and not codes[5:].any()
    texts = " | ".join(note_words(note) for note in notes)
    assert "taken as lawn: 7" in texts and f"{1 - 50 / 126:.0%} of the window has no land cover" in texts


def test_a_raster_of_unknown_classes_is_refused(tmp_path: Path) -> None:
    path = _classes(tmp_path / "cover.tif", [[1, 2, 3], [4, 5, 6]])
    with pytest.raises(InputError, match="--land-cover-classes"):
        load_land_cover(_request(tmp_path, path), GRID)
    table = tmp_path / "classes.csv"
    table.write_text("class,cover\n1,lawn\n2,woods fair\n3,paved\n4,11\n5,gravel\n")
    codes, notes = load_land_cover(_request(tmp_path, path, land_cover_classes=table), GRID)
    assert codes[0, ::5].tolist() == [0, CODE_OF["woods, fair"], CODE_OF["paved"]]
    assert codes[5, ::5].tolist() == [CODE_OF["water"], CODE_OF["gravel"], 0]
    assert [note_words(note) for note in notes] == ["values that are no cover are taken as lawn: 6"]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("class,cover\n1,moon dust\n", "moon dust"),
        ("class,cover\nx,lawn\n", "x, lawn"),
        ("a,b\n1,lawn\n", "1, lawn"),
        ("class,cover\n", "is empty"),
    ],
)
def test_class_tables_that_cannot_be_used(tmp_path: Path, text: str, why: str) -> None:
    path = tmp_path / "classes.csv"
    path.write_text(text)
    with pytest.raises(InputError, match=why):
        read_classes(path)
    with pytest.raises(InputError, match="not there"):
        read_classes(tmp_path / "absent.csv")


def test_a_raster_in_another_crs_is_the_same_in_any_window(tmp_path: Path) -> None:
    to_degrees = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True)
    west, north = to_degrees.transform(WEST - 10, NORTH + 10)
    values = np.random.default_rng(2).choice([11, 41, 81, 82], (40, 40)).astype(np.uint8)
    path = write_raster(
        tmp_path / "cover.tif", values, crs="EPSG:4326", transform=Affine(1.3e-5, 0, west, 0, -1.1e-5, north), unit=None
    )
    whole, _ = load_land_cover(_request(tmp_path, path), GRID)
    assert len(np.unique(whole)) == 4
    part = dataclasses.replace(GRID, west_m=WEST + 3, north_m=NORTH - 2, n_rows=5, n_cols=8)
    assert np.array_equal(load_land_cover(_request(tmp_path, path), part)[0], whole[2:7, 3:11])
    # By another way: the pixel under a cell's centre, asked of the file.
    with rasterio.open(path) as raster:
        at = [to_degrees.transform(WEST + col + 0.5, NORTH - 3.5) for col in range(N_COLS)]
        found = [int(value[0]) for value in raster.sample(at)]
    names = {11: "water", 41: "woods, good", 81: "pasture, good", 82: "row crops"}
    assert whole[3].tolist() == [CODE_OF[names[value]] for value in found]


def test_polygons_with_words(tmp_path: Path) -> None:
    spec = write_layer(
        tmp_path / "cover.gpkg",
        [square(0, 0), square(4, 0), square(8, 0), square(2, 2)],
        Cover=["Woods", "lawn", "moon dust", "gravel"],
    )
    codes, notes = load_land_cover(_request(tmp_path, spec), GRID)
    assert codes[0, [0, 5, 9]].tolist() == [CODE_OF["woods, good"], 0, 0]
    assert codes[3, 3] == CODE_OF["gravel"]  # the later polygon lies on top
    texts = " | ".join(note_words(note) for note in notes)
    assert "moon dust" in texts and "of the window has no land cover" in texts


def test_polygons_by_a_named_column_or_refused(tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "cover.gpkg", [square(0, 0, 20)], what=["water"])
    with pytest.raises(InputError, match="--land-cover-field"):
        load_land_cover(_request(tmp_path, spec), GRID)
    codes, _ = load_land_cover(_request(tmp_path, spec, land_cover_field="what"), GRID)
    assert (codes == CODE_OF["water"]).all()
    strange = write_layer(tmp_path / "strange.gpkg", [square(0, 0, 20)], cover=["moon dust"])
    with pytest.raises(InputError, match="moon dust"):
        load_land_cover(_request(tmp_path, strange), GRID)


@pytest.mark.parametrize("dtype", ["float32", "complex64"])
def test_a_raster_of_no_classes_is_refused(tmp_path: Path, dtype: str) -> None:
    path = write_raster(tmp_path / "cover.tif", np.ones((9, 14), dtype), unit=None)
    with pytest.raises(InputError, match="no classes"):
        load_land_cover(_request(tmp_path, path), GRID)
    with pytest.raises(InputError, match="not there"):
        load_land_cover(_request(tmp_path, tmp_path / "absent.tif"), GRID)
    (tmp_path / "text.tif").write_text("no raster")
    with pytest.raises(InputError, match="cannot be opened"):
        load_land_cover(_request(tmp_path, tmp_path / "text.tif"), GRID)
    bare = write_raster(tmp_path / "bare.tif", np.ones((9, 14), np.uint8), crs=None, unit=None)
    with pytest.raises(InputError, match="no coordinate reference system"):
        load_land_cover(_request(tmp_path, bare), GRID)


def test_a_block_carries_its_cover(tmp_path: Path) -> None:
    write_raster(tmp_path / "elev.tif", terrain())
    lots = write_layer(tmp_path / "lots.gpkg", [square(1, 1)], lot_id=["a"])
    cover = _classes(tmp_path / "cover.tif", [[41, 81, 11], [21, 41, 95]])
    with_cover = _request(tmp_path, cover, lots=lots)
    block = load_block(open_site(with_cover), GRID.bounds)
    assert block.cover is not None and block.cover.shape == (N_ROWS, N_COLS) and "land_cover" in block.given
    block = load_block(open_site(dataclasses.replace(with_cover, land_cover=None)), GRID.bounds)
    assert block.cover is None and "land_cover" not in block.given


def test_inspection_says_what_the_cover_is(tmp_path: Path) -> None:
    write_raster(tmp_path / "elev.tif", terrain())
    path = _classes(tmp_path / "cover.tif", [[41, 41, 11], [7, 41, 95]])
    item = next(item for item in inspect_inputs(_request(tmp_path, path)).items if item.subject == "land cover")
    assert item.ok and item.facts["kind"] == "raster of classes"
    assert item.facts["covers"].startswith("11 = water (16.7%); 41 = woods, good (50.0%)")
    assert "taken as lawn: 7" in note_words(item.notes[0])
    spec = write_layer(tmp_path / "cover.gpkg", [square(0, 0), square(900, 0)], cover=["woods", "x"])
    item = next(item for item in inspect_inputs(_request(tmp_path, spec)).items if item.subject == "land cover")
    assert item.ok and item.facts["covers"] == "woods = woods, good (1)"
    assert item.facts["on the elevation raster"] == "1 of 2"
    found = inspect_inputs(_request(tmp_path, tmp_path / "absent.tif"))
    assert not found.can_run and "land cover" in found.why_not


def test_the_command_takes_land_cover(tmp_path: Path) -> None:
    write_raster(tmp_path / "elev.tif", terrain())
    path = _classes(tmp_path / "cover.tif", [[1, 1, 1], [2, 2, 2]])
    (tmp_path / "classes.csv").write_text("class,cover\n1,lawn\n2,woods fair\n")
    done = CliRunner().invoke(
        cli,
        [
            "inspect",
            "--elevation",
            str(tmp_path / "elev.tif"),
            "--land-cover",
            str(path),
            "--land-cover-classes",
            str(tmp_path / "classes.csv"),
        ],
    )
    assert "1 = lawn (50.0%); 2 = woods, fair (50.0%)" in done.output


def test_a_raster_that_lies_elsewhere_gives_no_cover_and_says_so(tmp_path: Path) -> None:
    path = _classes(tmp_path / "cover.tif", [[41, 81], [21, 41]], west=WEST + 5000)
    codes, notes = load_land_cover(_request(tmp_path, path), GRID)
    assert not codes.any()
    assert any("100% of the window has no land cover" in note_words(note) for note in notes)


def test_looking_at_a_raster_of_unknown_classes_says_how_to_name_them(tmp_path: Path) -> None:
    write_raster(tmp_path / "elev.tif", terrain())
    path = _classes(tmp_path / "cover.tif", [[1, 2], [3, 4]])
    found = inspect_inputs(_request(tmp_path, path, lots=write_layer(tmp_path / "l.gpkg", [square(1, 1)], apn=["a"])))
    item = next(item for item in found.items if item.subject == "land cover")
    assert any("--land-cover-classes" in problem for problem in item.errors)
