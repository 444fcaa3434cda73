"""A batch finds for each lot what a screening of that lot alone finds, and every lot is accounted for once."""

import dataclasses
import json
import os

import numpy as np
import openpyxl
import pandas as pd
import pytest
import rasterio

from screening.batch import BatchOptions, run_batch
from screening.inputs import open_site
from screening.models import SiteRequest
from screening.schema.criteria import Criteria
from screening.site.chosen_rain import choose_rain
from screening.site.samples import demo_request, samples_dir
from screening.site.screen import screen_site
from tests.slow.batch.running import run, run_here, summary_of, verdicts_of

N_REAL_LOTS = int(os.environ.get("BATCH_REAL_LOTS", "8"))
OWN_TO_BLOCK = ["visit_rank", "status", "reason"]


def rain():
    return choose_rain(rainfall=samples_dir() / "rainfall.csv", storm="10yr-24h", criteria=Criteria())


@pytest.fixture(scope="module")
def sample_paths():
    layers = {name: samples_dir() / f"{name}.geojson" for name in ("lots", "structures", "driveways", "soils")}
    return {"elevation": samples_dir() / "elevation.tif", **layers}


@pytest.fixture(scope="module")
def sample_run(sample_paths, tmp_path_factory):
    out = tmp_path_factory.mktemp("batch")
    done = run(sample_paths, out, "--workers", 1)
    assert done.returncode == 0, done.stderr
    return out, done


def assert_same_lots(found, expected):
    expected = expected.set_index("lot_id").drop(columns=["visit_rank", "geometry"])
    found = found.set_index("lot_id").drop(columns=[*OWN_TO_BLOCK, "geometry"]).loc[list(expected.index)]
    pd.testing.assert_frame_equal(
        found.astype(object),
        expected.astype(object),
        check_dtype=False,
        check_index_type=False,
        check_column_type=False,
        rtol=1e-9,
        atol=1e-9,
    )


def test_a_batch_finds_what_the_site_finds(sample_run, sample_paths):
    out, done = sample_run
    found = summary_of(out)
    request = SiteRequest(**{name: path if name == "elevation" else str(path) for name, path in sample_paths.items()})
    rain_75 = choose_rain(rain_mm=75.0, criteria=Criteria())
    together = screen_site(request, rain=rain_75)
    assert_same_lots(found, together.summary)
    assert found.visit_rank.tolist() == list(range(1, len(found) + 1))
    assert found.set_index("lot_id").visit_rank.to_dict() == together.summary.set_index("lot_id").visit_rank.to_dict()
    for lot_id in found.lot_id.iloc[[0, 7, -1]]:
        alone = screen_site(SiteRequest(**{**vars(request), "lot_ids": (lot_id,)}), rain=rain_75)
        assert_same_lots(found, alone.summary)
    assert done.stderr == ""  # no terminal, no progress
    assert f"{len(found)} lots: {len(found)} assessed" in done.stdout


def test_scores_are_traced_to_their_verdicts(sample_run):
    out, _ = sample_run
    found, verdicts = summary_of(out), verdicts_of(out)
    points = verdicts.groupby("lot_id").points.sum()
    assert found.visit_score.tolist() == pytest.approx(points[found.lot_id].tolist(), rel=1e-8)
    assert (np.diff(found.visit_score) <= 0).all()


def test_a_second_run_screens_nothing_and_says_the_same(sample_run, sample_paths):
    out, _ = sample_run
    before = {path: path.stat().st_mtime_ns for path in (out / "parts").iterdir()}
    again = run_here(sample_paths, out)
    assert again.exit_code == 0 and " of them in " not in again.stdout
    assert {path: path.stat().st_mtime_ns for path in (out / "parts").iterdir()} == before


@pytest.mark.parametrize("change", ["criteria", "rain", "layers"])
def test_other_inputs_are_not_mixed_with_old_parts(change, sample_run, sample_paths, tmp_path):
    out, _ = sample_run
    (tmp_path / "own.toml").write_text("setback_well_m = 20.0\n", encoding="utf-8")
    more = {"criteria": ["--criteria", tmp_path / "own.toml"], "rain": ["--rain-mm", 76]}.get(change, [])
    layers = {name: path for name, path in sample_paths.items() if name != "soils" or change != "layers"}
    refused = run_here(layers, out, *more)
    assert refused.exit_code == 2
    named = {"criteria": "the thresholds", "rain": "the rain", "layers": "--soils"}[change]
    assert f"where {named} differed" in refused.stderr
    assert "--out" in refused.stderr and "--restart" in refused.stderr
    assert json.loads((out / "run.json").read_text())["hashes"]


def test_from_python_with_the_samples(tmp_path):
    request = demo_request()
    report = run_batch(request, tmp_path, rain=rain(), options=BatchOptions(n_workers=1))
    assert report.is_complete and report.n_settled == report.n_lots == len(report.summary)
    assert set(report.written) >= {"summary_csv", "summary_xlsx", "summary_parquet", "summary_gpkg"}
    book = openpyxl.load_workbook(report.written["summary_xlsx"], read_only=True)
    by_sheet = {sheet.title: list(sheet.values) for sheet in book}
    book.close()
    assert [row[0] for row in by_sheet["Lots"][1:]] == report.summary.lot_id.tolist()
    assert by_sheet["Lots"][0][2:4] == ("Status", "Reason") and len(by_sheet["Field notes"]) == report.n_lots + 1


def test_pages_of_the_first_lots_and_rasters_when_asked(sample_paths, tmp_path):
    two = ["--lot-id", "TR-01", "--lot-id", "TR-02"]
    done = run(sample_paths, tmp_path, "--workers", 1, "--pages", "top:2", "--rasters", *two)
    assert done.returncode == 0, done.stderr
    found = summary_of(tmp_path)
    folders = sorted(path.name for path in (tmp_path / "pages").iterdir())
    assert folders == [f"{rank:05d}-{lot_id}" for rank, lot_id in enumerate(found.lot_id, start=1)]
    assert all((tmp_path / "pages" / name / "map.html").stat().st_size > 1e5 for name in folders)
    (rasters,) = (tmp_path / "rasters").iterdir()
    with rasterio.open(rasters / "standing_water.tif") as raster:
        assert raster.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG" and raster.units == ("m",)
    assert len(list(rasters.iterdir())) == 8
    refused = run_here(sample_paths, tmp_path, "--pages", "first")
    assert refused.exit_code == 2 and "top:N" in refused.stderr


@pytest.mark.realdata
def test_real_lots_find_what_they_find_alone(real_data, tmp_path):
    folder = real_data / "bangor"
    request = SiteRequest(
        elevation=folder / "dem_3ft_tin_DERIVED.tif",
        lots=str(folder / "parcels_window.gpkg"),
        structures=str(folder / "buildings_window.gpkg"),
    )
    rain_75 = choose_rain(rain_mm=75.0, criteria=Criteria())
    roster = open_site(request).lots.lot_id
    chosen = roster.sample(min(N_REAL_LOTS, len(roster)), random_state=3).tolist()
    request = dataclasses.replace(request, lot_ids=tuple(chosen))
    found = run_batch(request, tmp_path, rain=rain_75, options=BatchOptions()).summary
    assert sorted(found.lot_id) == sorted(chosen)
    n_compared = 0
    for lot_id in found[found.status == "assessed"].lot_id:
        alone = screen_site(dataclasses.replace(request, lot_ids=(lot_id,)), rain=rain_75)
        if not alone.summary.edge_contaminated.any():
            assert_same_lots(found, alone.summary)
            n_compared += 1
    print(f"{n_compared} of {len(found)} lots compared")
    assert n_compared > 0
