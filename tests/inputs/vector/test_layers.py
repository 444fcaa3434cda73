from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from pyproj import CRS
from pyproj.aoi import AreaOfInterest
from pyproj.transformer import TransformerGroup

from screening.errors import InputError
from screening.inputs import read_layer, split_layer
from screening.inputs.datum import datum_taken
from screening.inputs.vector.ids import part_id, read_ids, text_of, unique_ids
from screening.inputs.vector.impervious import driveways_from_impervious
from screening.inputs.vector.layers import open_layer
from screening.report.words.notes import note_words
from tests.inputs.files import NORTH, UTM, WEST, square, write_layer

CRS_WITHOUT_CODE = CRS.from_wkt(CRS.from_epsg(26983).to_wkt().rpartition("USAGE[")[0].rstrip(", \n") + "]").to_wkt()
BOUNDS = (WEST, NORTH - 100, WEST + 100, NORTH)


def _read(spec: str, **options: Any) -> tuple[gpd.GeoDataFrame, str]:
    frame, notes = read_layer(spec, **{"crs": UTM, "bounds": BOUNDS, "want": "polygon", "subject": "roads", **options})
    return frame, " | ".join(note_words(note) for note in notes)


def test_split_layer() -> None:
    assert split_layer("a/town.gpkg::roads") == (Path("a/town.gpkg"), "roads")
    assert split_layer("town.gpkg") == (Path("town.gpkg"), None)


def test_any_crs_comes_to_the_metre_crs(tmp_path: Path) -> None:
    here = gpd.GeoSeries([square(3, 3)], crs=UTM)
    for name, crs in (("a.geojson", "EPSG:4326"), ("b.gpkg", "EPSG:2264"), ("c.shp", "EPSG:3857")):
        spec = write_layer(tmp_path / name, here.to_crs(crs), crs=crs, n=[1])
        frame, _ = _read(spec)
        assert frame.crs == UTM
        assert shapely.hausdorff_distance(frame.geometry.iloc[0], square(3, 3)) < 0.02


def test_only_what_meets_the_window_is_read_in_the_order_of_the_file(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    shapes = [square(*place) for place in rng.uniform(-200, 300, (400, 2))]
    frame, _ = _read(write_layer(tmp_path / "many.gpkg", shapes, number=list(range(400))))
    expected = [number for number, shape in enumerate(shapes) if shape.intersects(shapely.box(*BOUNDS))]
    assert frame["number"].tolist() == expected
    assert frame.geometry.area.tolist() == pytest.approx([16.0] * len(expected))


def test_missing_files_layers_and_crs_are_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="not there"):
        _read(str(tmp_path / "absent.gpkg"))
    (tmp_path / "bad.geojson").write_text("{")
    with pytest.raises(InputError, match=r"cannot be opened.*bad\.geojson"):
        _read(str(tmp_path / "bad.geojson"))
    town = tmp_path / "town.gpkg"
    write_layer(town, [square(1, 1)], layer="roads")
    write_layer(town, [square(2, 2)], layer="walks")
    with pytest.raises(InputError, match=r"none is named.*roads, walks.*town\.gpkg::roads"):
        _read(str(town))
    assert len(_read(f"{town}::walks")[0]) == 1
    with pytest.raises(InputError, match="no layer 'paths'"):
        _read(f"{town}::paths")
    with pytest.warns(UserWarning, match="crs"):
        nowhere = write_layer(tmp_path / "no_crs.gpkg", [square(1, 1)], crs=None)
    with pytest.raises(InputError, match="no coordinate reference system"):
        _read(nowhere)
    (tmp_path / "table.csv").write_text("a,b\n1,2\n")
    with pytest.raises(InputError, match="without geometries"):
        _read(str(tmp_path / "table.csv"))


def test_invalid_polygons_are_repaired_and_named(tmp_path: Path) -> None:
    x, y = WEST + 10, NORTH - 10
    bow_tie = shapely.Polygon([(x, y), (x + 4, y + 4), (x + 4, y), (x, y + 4)])
    frame, text = _read(write_layer(tmp_path / "a.geojson", [square(1, 1), bow_tie], crs=UTM))
    assert "1 invalid geometries repaired (feature numbers 1)" in text
    assert frame.geometry.is_valid.all()
    assert frame.geom_type.unique().tolist() == ["Polygon"]
    assert frame["_part"].tolist() == [0, 1, 2]
    assert frame.geometry.area.sum() == pytest.approx(16 + 8, rel=1e-6)


def test_z_is_dropped_and_nulls_and_slivers_are_counted(tmp_path: Path) -> None:
    shapes = [shapely.force_3d(square(1, 1), 9.0), None, shapely.Polygon(), square(8, 8, 0.5), square(20, 20)]
    frame, text = _read(write_layer(tmp_path / "a.gpkg", shapes), bounds=None)
    assert not frame.has_z.any()
    assert len(frame) == 2
    assert "2 features without a geometry" in text
    assert "1 slivers" in text


def test_parts_are_split_or_kept_as_asked(tmp_path: Path) -> None:
    pair = shapely.MultiPolygon([square(1, 1), square(10, 1)])
    ring = square(30, 30, 8).difference(square(32, 32, 2))
    spec = write_layer(tmp_path / "a.gpkg", [square(50, 50), pair, ring], name=["one", "pair", "ring"])
    parts, _ = _read(spec)
    assert list(zip(parts["name"], parts["_part"], strict=True)) == [("one", 0), ("pair", 1), ("pair", 2), ("ring", 0)]
    whole, _ = _read(spec, keep_multi=True)
    assert whole["name"].tolist() == ["one", "pair", "ring"]
    assert whole.geom_type.tolist() == ["Polygon", "MultiPolygon", "Polygon"]
    assert whole.geometry.area.tolist() == [16, 32, 60]
    # A part outside the window goes, and its sibling keeps the number it has everywhere.
    alone, _ = _read(spec, bounds=(WEST + 9, NORTH - 6, WEST + 20, NORTH))
    assert alone["_part"].tolist() == [2]


def test_wrong_kinds_are_refused_or_left_out_with_a_note(tmp_path: Path) -> None:
    dot = shapely.Point(WEST + 2, NORTH - 2)
    with pytest.raises(InputError, match=r"holds no polygons\. Got: Point"):
        _read(write_layer(tmp_path / "dots.gpkg", [dot, dot]))
    mixed = shapely.GeometryCollection([square(1, 1), dot])
    frame, text = _read(write_layer(tmp_path / "mixed.geojson", [mixed, dot, square(9, 9)], crs=UTM))
    assert frame.geom_type.tolist() == ["Polygon", "Polygon"]
    assert "1 features left out: not of the kind wanted" in text


def test_curves_are_read_as_polygons_and_measures_are_dropped(tmp_path: Path) -> None:
    x, y = WEST + 20, NORTH - 20
    curve = f"CURVEPOLYGON (CIRCULARSTRING ({x} {y}, {x + 5} {y + 5}, {x + 10} {y}, {x + 5} {y - 5}, {x} {y}))"
    (tmp_path / "c.csv").write_text(f'WKT,n\n"{curve}",1\n"POINT M ({x} {y} 3)",2\n')
    vrt = tmp_path / "c.vrt"
    vrt.write_text(
        '<OGRVRTDataSource><OGRVRTLayer name="c"><SrcDataSource relativeToVRT="1">c.csv</SrcDataSource>'
        f"<LayerSRS>{UTM}</LayerSRS></OGRVRTLayer></OGRVRTDataSource>"
    )
    frame, _ = _read(str(vrt))
    assert frame.geometry.area.tolist() == pytest.approx([np.pi * 25], rel=0.01)
    dots, _ = _read(str(vrt), want="point")
    assert dots.geometry.iloc[0] == shapely.Point(x, y)


def test_what_the_reader_warns_of_becomes_a_note(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    spec = write_layer(tmp_path / "a.gpkg", [square(1, 1)])
    original = pyogrio.read_dataframe

    def warning(*args: Any, **rest: Any) -> Any:
        warnings.warn("odd thing", UserWarning, stacklevel=1)
        return original(*args, **rest)

    monkeypatch.setattr(pyogrio, "read_dataframe", warning)
    assert _read(spec)[1] == "reader: odd thing"


def test_impossible_coordinates_are_left_out(tmp_path: Path) -> None:
    far = shapely.box(1e30, 1e30, 1.1e30, 1.1e30)
    frame, text = _read(write_layer(tmp_path / "a.gpkg", [far, square(1, 1)], crs="EPSG:26918"), bounds=None)
    assert len(frame) == 1
    assert "impossible coordinates" in text


def test_ids_are_text_unique_and_independent_of_the_window(tmp_path: Path) -> None:
    values = ["A", None, "A", "unnamed-1", "A#2", " ", "A"]
    spec = write_layer(tmp_path / "a.gpkg", [square(5 * k, 1) for k in range(7)], pid=values)
    table = read_ids(open_layer(spec, subject="lots"), "pid", prefix="lot-")
    assert list(table.by_fid.values()) == ["A", "unnamed-2", "A#3", "unnamed-1", "A#2", "unnamed-3", "A#4"]
    assert table.repeated == ("A",)
    assert table.n_unnamed == 2
    assert len(set(table.by_fid.values())) == 7


@given(st.lists(st.sampled_from(["A", "B", "A#2", "A#3", "unnamed-1", "unnamed-1#2", ""]), max_size=12))
def test_ids_are_unique_whatever_the_file_has(values: list[str]) -> None:
    named = unique_ids(dict(enumerate(values)))
    assert list(named) == list(range(len(values)))
    assert len(set(named.values())) == len(values)
    for text in set(values) - {""}:
        assert named[values.index(text)] == text


def test_a_crs_without_a_place_on_the_earth_is_refused(tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "local.gpkg", [square(1, 1)], crs='LOCAL_CS["site grid",UNIT["metre",1]]')
    with pytest.raises(InputError, match="no coordinate reference system"):
        _read(spec)


def test_ids_follow_a_file_that_is_written_anew(tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "a.geojson", [square(1, 1)], crs=UTM, pid=["old"])
    assert list(read_ids(open_layer(spec, subject="lots"), "pid", prefix="").by_fid.values()) == ["old"]
    spec = write_layer(tmp_path / "a.geojson", [square(1, 1)], crs=UTM, pid=["new"])
    assert list(read_ids(open_layer(spec, subject="lots"), "pid", prefix="").by_fid.values()) == ["new"]


@pytest.mark.parametrize(
    ("value", "text"),
    [(12.0, "12"), (12.5, "12.5"), (7, "7"), (" A-7 ", "A-7"), (None, ""), (float("nan"), ""), ("<Null>", "")],
)
def test_text_of(value: Any, text: str) -> None:
    assert text_of(value) == text


def test_part_id() -> None:
    assert (part_id("S-3", 0), part_id("S-3", 2)) == ("S-3", "S-3-2")


def test_reprojection_is_noted(tmp_path: Path) -> None:
    here = gpd.GeoSeries([square(3, 3)], crs=UTM)
    _, text = _read(write_layer(tmp_path / "a.gpkg", here.to_crs(4326), crs=4326))
    assert text == "reprojected from WGS 84"
    # EPSG:6346 = NAD83(2011) / UTM zone 17N.
    _, text = _read(write_layer(tmp_path / "b.gpkg", here.to_crs(6346), crs=6346))
    assert "NAD83(2011) taken as NAD83" in text


def test_an_unknown_datum_shift_is_refused(tmp_path: Path) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        shifts = TransformerGroup(26717, UTM, area_of_interest=AreaOfInterest(-81, 40, -81, 40)).transformers
    if "Ballpark" not in shifts[0].description:
        pytest.skip("the shift grids of NAD27 are installed here")
    for metre_crs in (UTM, CRS_WITHOUT_CODE):
        assert datum_taken("EPSG:4326", metre_crs, subject="it") is None
        with pytest.raises(InputError, match=r"datum whose shift.*NAD27, elevation on NAD83"):
            datum_taken("EPSG:26717", metre_crs, subject="it")
    with pytest.raises(InputError, match=r"datum whose shift"):
        _read(write_layer(tmp_path / "c.gpkg", [square(3, 3)], crs=26717))


@pytest.mark.parametrize("name", ["a.gpkg", "a.fgb", "a.shp", "a.geojson"])
def test_feature_numbers_are_those_of_the_file_in_any_window(tmp_path: Path, name: str) -> None:
    here = gpd.GeoSeries([square(7 * (k % 5), 7 * (k // 5)) for k in range(25)], crs=UTM).to_crs(4326)
    spec = write_layer(tmp_path / name, here, crs=4326, n=list(range(25)))
    whole, _ = _read(spec, bounds=None)
    part, _ = _read(spec, bounds=(WEST + 15, NORTH - 12, WEST + 40, NORTH - 8))
    assert 3 <= len(part) < 9
    assert part["n"].tolist() == whole.loc[part.index, "n"].tolist()


def test_a_window_of_strays_in_a_mixed_layer_is_empty_not_refused(tmp_path: Path) -> None:
    mixed = [shapely.Point(WEST + 2, NORTH - 2), square(50, 50)]
    frame, text = _read(write_layer(tmp_path / "m.geojson", mixed), bounds=(WEST, NORTH - 10, WEST + 10, NORTH))
    assert len(frame) == 0
    assert "1 features left out: not of the kind wanted" in text


def test_the_shift_to_a_crs_that_names_no_place_is_looked_up_for_the_whole_earth() -> None:
    """Neither an area of use nor a latitude of origin: nothing says where on the earth it is for."""
    nowhere = CRS.from_proj4("+proj=robin +datum=NAD83 +units=m").to_wkt()
    assert datum_taken("EPSG:4326", nowhere, subject="it") is None


def test_impervious_polygons_with_nothing_known_around_are_no_driveways(tmp_path: Path) -> None:
    nothing = gpd.GeoDataFrame({"driveway_id": [], "lot_id": [], "kind": []}, geometry=[], crs=UTM)
    house = gpd.GeoDataFrame({"structure_id": ["H"]}, geometry=[square(10, 3)], crs=UTM)
    spec = write_layer(tmp_path / "i.gpkg", [square(3, 3), square(14, 3)])
    options = {"crs": UTM, "bounds": BOUNDS, "roads": nothing, "driveways": nothing}
    alone, notes = driveways_from_impervious(spec, structures=nothing, **options)
    assert alone.empty and "0 of 2 impervious polygons" in note_words(notes[-1])
    beside, notes = driveways_from_impervious(spec, structures=house, **options)
    assert beside["driveway_id"].tolist() == ["I-2"] and "1 of 2 impervious polygons" in note_words(notes[-1])
