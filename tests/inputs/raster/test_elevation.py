from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from pyproj import CRS, Transformer
from rasterio.errors import NotGeoreferencedWarning

from screening.errors import InputError
from screening.inputs import open_elevation, read_elevation
from screening.inputs.raster.windows import window_grid
from screening.models import EAST_SIDE, NORTH_SIDE, SOUTH_SIDE, WEST_SIDE
from screening.report.words.notes import note_words
from screening.units import M_PER_US_FT
from tests.inputs.files import N_COLS, N_ROWS, NORTH, UTM, WEST, terrain, write_raster

EVERYWHERE = (-1e9, -1e9, 1e9, 1e9)


def _as_vrt(folder: Path, pixels: np.ndarray) -> Path:
    """Four tiles of unequal size under one VRT."""
    sources = []
    for row0, row1 in ((0, 5), (5, N_ROWS)):
        for col0, col1 in ((0, 6), (6, N_COLS)):
            tile = folder / f"tile_{row0}_{col0}.tif"
            corner = Affine(1.0, 0.0, WEST + col0, 0.0, -1.0, NORTH - row0)
            write_raster(tile, pixels[row0:row1, col0:col1], transform=corner)
            size = f'xSize="{col1 - col0}" ySize="{row1 - row0}"'
            sources.append(
                f'<SimpleSource><SourceFilename relativeToVRT="1">{tile.name}</SourceFilename>'
                "<SourceBand>1</SourceBand>"
                f'<SrcRect xOff="0" yOff="0" {size}/><DstRect xOff="{col0}" yOff="{row0}" {size}/></SimpleSource>'
            )
    vrt = folder / "tiles.vrt"
    vrt.write_text(
        f'<VRTDataset rasterXSize="{N_COLS}" rasterYSize="{N_ROWS}"><SRS>{UTM}</SRS>'
        f"<GeoTransform>{WEST}, 1, 0, {NORTH}, 0, -1</GeoTransform>"
        f'<VRTRasterBand dataType="Float32" band="1"><UnitType>m</UnitType>{"".join(sources)}'
        "</VRTRasterBand></VRTDataset>"
    )
    return vrt


def _as_ascii(folder: Path, pixels: np.ndarray) -> Path:
    path = folder / "ground.asc"
    head = f"ncols {N_COLS}\nnrows {N_ROWS}\nxllcorner {WEST}\nyllcorner {NORTH - N_ROWS}\ncellsize 1\n"
    path.write_text(head + "\n".join(" ".join(f"{value:.2f}" for value in row) for row in pixels) + "\n")
    path.with_suffix(".prj").write_text(CRS(UTM).to_wkt("WKT1_ESRI"))
    return path


@pytest.mark.parametrize(
    "encoding", ["geotiff", "ascii", "vrt", "south-up", "int16", "uint16", "float64", "centimetres"]
)
def test_one_terrain_in_many_encodings_reads_as_the_same_array(tmp_path: Path, encoding: str) -> None:
    pixels = terrain()
    hundredths = np.round(pixels.astype(np.float64) * 100)
    tif = tmp_path / "ground.tif"
    south_up = Affine(1.0, 0.0, WEST, 0.0, 1.0, NORTH - N_ROWS)
    make = {
        "geotiff": lambda: write_raster(tif, pixels),
        "ascii": lambda: _as_ascii(tmp_path, pixels),
        "vrt": lambda: _as_vrt(tmp_path, pixels),
        "south-up": lambda: write_raster(tif, pixels[::-1], transform=south_up),
        "int16": lambda: write_raster(tif, hundredths.astype(np.int16), scale=0.01),
        "uint16": lambda: write_raster(tif, (hundredths - 5000).astype(np.uint16), scale=0.01, offset=50.0),
        "float64": lambda: write_raster(tif, hundredths / 100),
        "centimetres": lambda: write_raster(tif, hundredths.astype(np.int32), unit="cm"),
    }
    path = make[encoding]()
    source = open_elevation(path, vertical_unit="m" if encoding == "ascii" else None)
    grid, elev_m, sides, _ = read_elevation(source, EVERYWHERE)
    assert (grid.crs, grid.west_m, grid.north_m, grid.cell_m, grid.shape) == (UTM, WEST, NORTH, 1.0, (N_ROWS, N_COLS))
    assert elev_m.dtype == np.float32
    assert not source.is_resampled
    if encoding in ("geotiff", "vrt", "south-up"):
        np.testing.assert_array_equal(elev_m, pixels)
    np.testing.assert_allclose(elev_m, pixels, atol=1e-5)
    assert sides == NORTH_SIDE | EAST_SIDE | SOUTH_SIDE | WEST_SIDE


def test_window_is_snapped_outwards_to_the_cells_and_names_the_sides_where_data_end(raster: Path) -> None:
    source = open_elevation(raster)
    grid, elev_m, sides, _ = read_elevation(source, (WEST + 3.2, NORTH - 20, WEST + 7.0, NORTH - 4.9))
    assert (grid.west_m, grid.north_m, grid.shape) == (WEST + 3, NORTH - 4, (5, 4))
    np.testing.assert_array_equal(elev_m, terrain()[4:9, 3:7])
    assert sides == SOUTH_SIDE


def test_south_up_window_takes_the_same_rows(tmp_path: Path) -> None:
    transform = Affine(1.0, 0.0, WEST, 0.0, 1.0, NORTH - N_ROWS)
    source = open_elevation(write_raster(tmp_path / "up.tif", terrain()[::-1], transform=transform))
    _, elev_m, sides, _ = read_elevation(source, (WEST + 2, NORTH - 3, WEST + 5, NORTH - 1))
    np.testing.assert_array_equal(elev_m, terrain()[1:3, 2:5])
    assert sides == 0


def test_window_off_the_raster_and_window_too_large_are_refused(raster: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source = open_elevation(raster)
    with pytest.raises(InputError, match="outside the elevation raster"):
        window_grid(source, (WEST - 20, NORTH - 5, WEST - 10, NORTH))
    monkeypatch.setattr("screening.inputs.raster.windows.MAX_CELLS", 100)
    with pytest.raises(InputError, match="too many cells"):
        window_grid(source, EVERYWHERE)


def test_only_the_window_is_read(raster: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read: list[tuple[int, int]] = []
    import screening.inputs.raster.windows as windows

    original = windows.read_cells
    monkeypatch.setattr(
        windows, "read_cells", lambda *args, shape, **rest: read.append(shape) or original(*args, shape=shape, **rest)
    )
    source = open_elevation(raster)
    assert read == []
    read_elevation(source, (WEST + 1, NORTH - 3, WEST + 4, NORTH - 1))
    assert read == [(2, 3)]


def test_feet_in_x_y_and_z_keep_their_cells(tmp_path: Path) -> None:
    feet = terrain() * np.float32(3)
    transform = Affine(3.0, 0.0, 915_000.0, 0.0, -3.0, 420_000.0)
    path = write_raster(tmp_path / "feet.tif", feet, crs="EPSG:26847", transform=transform, unit="US survey foot")
    source = open_elevation(path)
    grid, elev_m, _, _ = read_elevation(source, EVERYWHERE)
    assert not source.is_resampled
    assert grid.crs == "EPSG:26983"
    assert grid.cell_m == pytest.approx(3 * M_PER_US_FT, rel=1e-12)
    np.testing.assert_array_equal(elev_m, (feet.astype(np.float64) * M_PER_US_FT).astype(np.float32))
    assert {note.kind for note in source.notes} == {"converted"}


@pytest.mark.parametrize("code", [26847, 2263, 2249, 2222, 6576, 2965, 3089, 2283])
def test_foot_crs_becomes_the_same_projection_in_metres_within_a_millimetre(tmp_path: Path, code: int) -> None:
    # EPSG dataset through PROJ: state plane systems in US survey and international feet.
    crs = CRS.from_epsg(code)
    area = crs.area_of_use
    assert area is not None
    to_feet = Transformer.from_crs(crs.geodetic_crs, crs, always_xy=True)
    x, y = to_feet.transform((area.west + area.east) / 2, (area.south + area.north) / 2)
    transform = Affine(3.0, 0.0, round(x), 0.0, -3.0, round(y))
    source = open_elevation(write_raster(tmp_path / "f.tif", terrain(), crs=f"EPSG:{code}", transform=transform))
    to_grid = Transformer.from_crs(crs, source.grid.crs, always_xy=True)
    west, south, east, north = source.grid.bounds
    assert to_grid.transform(round(x), round(y)) == pytest.approx((west, north), abs=0.001)
    corner = to_grid.transform(round(x) + 3 * N_COLS, round(y) - 3 * N_ROWS)
    assert corner == pytest.approx((east, south), abs=0.001)
    assert CRS.from_user_input(source.grid.crs).axis_info[0].unit_name == "metre"
    assert not source.is_resampled


def test_a_foot_crs_in_another_dialect_is_the_same_place(tmp_path: Path) -> None:
    code = CRS.from_epsg(26847)
    pixels, transform = terrain(), Affine(3.0, 0.0, 915_000.0, 0.0, -3.0, 420_000.0)
    one = open_elevation(write_raster(tmp_path / "code.tif", pixels, crs="EPSG:26847", transform=transform))
    path = tmp_path / "ground.asc"
    rows = "\n".join(" ".join(f"{value:.2f}" for value in row) for row in pixels)
    head = f"ncols {N_COLS}\nnrows {N_ROWS}\nxllcorner 915000\nyllcorner {420_000 - 3 * N_ROWS}\ncellsize 3\n"
    path.write_text(head + rows + "\n")
    path.with_suffix(".prj").write_text(code.to_wkt("WKT1_ESRI"))
    other = open_elevation(path, vertical_unit="m")
    assert other.grid.bounds == pytest.approx(one.grid.bounds, abs=1e-3)
    assert not other.is_resampled


def test_horizontal_feet_are_no_evidence_for_vertical_feet(tmp_path: Path) -> None:
    transform = Affine(3.0, 0.0, 915_000.0, 0.0, -3.0, 420_000.0)
    path = write_raster(tmp_path / "feet.tif", terrain(), crs="EPSG:26847", transform=transform, unit=None)
    with pytest.raises(InputError, match="--vertical-unit"):
        open_elevation(path)
    _, elev_m, _, _ = read_elevation(open_elevation(path, vertical_unit="m"), EVERYWHERE)
    np.testing.assert_array_equal(elev_m, terrain())


def test_vertical_axis_of_a_compound_crs_gives_the_unit(tmp_path: Path) -> None:
    # EPSG:6360 = NAVD88 height in US survey feet.
    path = write_raster(tmp_path / "compound.tif", terrain(), crs="EPSG:26917+6360", unit=None)
    source = open_elevation(path)
    assert source.vertical_unit == "us-ft"
    assert source.grid.crs == UTM


def test_untagged_and_tagged_and_infinite_no_data(tmp_path: Path) -> None:
    pixels = terrain()
    pixels[0, 0], pixels[1, 1], pixels[2, 2], pixels[3, 3], pixels[4, 4] = -9999, np.nan, np.inf, -3.4028235e38, -32768
    pixels[5, 5] = 7.0
    source = open_elevation(write_raster(tmp_path / "voids.tif", pixels, nodata=7.0))
    _, elev_m, _, notes = read_elevation(source, EVERYWHERE)
    assert sorted(zip(*np.nonzero(np.isnan(elev_m)), strict=True)) == [(k, k) for k in range(6)]
    texts = " | ".join(note_words(note) for note in notes)
    for word in ("-9999", "-32768", "-3.403e+38", "infinite"):
        assert word in texts
    assert "7" not in texts.replace("32768", "")


def test_tagged_no_data_is_not_noted(tmp_path: Path) -> None:
    pixels = terrain()
    pixels[0, :3] = -9999
    source = open_elevation(write_raster(tmp_path / "voids.tif", pixels, nodata=-9999))
    _, elev_m, _, notes = read_elevation(source, EVERYWHERE)
    assert np.isnan(elev_m).sum() == 3
    assert notes == ()


def test_mask_band_is_no_data(tmp_path: Path) -> None:
    path = tmp_path / "masked.tif"
    mask = np.full((N_ROWS, N_COLS), 255, dtype=np.uint8)
    mask[2, 5] = 0
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True):
        write_raster(path, terrain())
        with rasterio.open(path, "r+") as out:
            out.write_mask(mask)
    _, elev_m, _, _ = read_elevation(open_elevation(path), EVERYWHERE)
    assert np.argwhere(np.isnan(elev_m)).tolist() == [[2, 5]]


def test_cells_wider_than_a_driveway_are_cautioned(tmp_path: Path) -> None:
    transform = Affine(10.0, 0.0, WEST, 0.0, -10.0, NORTH)
    source = open_elevation(write_raster(tmp_path / "coarse.tif", terrain(), transform=transform))
    assert [note.kind for note in source.notes] == ["caution"]


def test_more_bands_and_scale_are_noted_and_impossible_heights_refused(tmp_path: Path) -> None:
    two = np.stack([terrain() * 100, terrain()])
    source = open_elevation(write_raster(tmp_path / "two.tif", two, scale=1.5))
    assert any("band 1 of 2" in note_words(note) for note in source.notes)
    assert any("scaled by 1.5" in note_words(note) for note in source.notes)
    with pytest.raises(InputError, match=r"two\.tif holds elevations that no ground has.*--vertical-unit"):
        read_elevation(source, EVERYWHERE)


def test_files_that_cannot_be_used_say_how_to_mend_them(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="not there"):
        open_elevation(tmp_path / "absent.tif")
    (tmp_path / "text.tif").write_text("not a raster")
    with pytest.raises(InputError, match="cannot be opened"):
        open_elevation(tmp_path / "text.tif")
    with pytest.raises(InputError, match="no coordinate reference system"):
        open_elevation(write_raster(tmp_path / "no_crs.tif", terrain(), crs=None))
    with pytest.warns(NotGeoreferencedWarning):
        nowhere = write_raster(tmp_path / "no_place.tif", terrain(), transform=Affine.identity())
    with pytest.raises(InputError, match="no position"):
        open_elevation(nowhere)
    local = 'LOCAL_CS["site grid",UNIT["metre",1]]'
    with pytest.raises(InputError, match="neither geographic nor projected"):
        open_elevation(write_raster(tmp_path / "local.tif", terrain(), crs=local))
    with pytest.raises(InputError, match="complex"):
        open_elevation(write_raster(tmp_path / "complex.tif", terrain().astype(np.complex64)))
