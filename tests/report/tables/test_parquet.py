from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import pyarrow.parquet as pq
import pytest

from screening.models import BlockResult
from screening.report.tables.parquet import write_parquet
from screening.schema.columns import TABLES, names


def test_lots_read_back_with_their_crs_and_meanings(tiny_result: BlockResult, tmp_path: Path) -> None:
    write_parquet(tiny_result, tmp_path / "s.parquet")
    read = gpd.read_parquet(tmp_path / "s.parquet")
    assert [name for name in read.columns if name != "geometry"] == names(TABLES["summary"])
    assert read.crs.to_epsg() == 26917
    assert read["lot_id"].tolist() == ["A-1", "A-2"]
    assert read.geometry.area.tolist() == pytest.approx(tiny_result.summary.geometry.area.tolist())
    field = pq.read_schema(tmp_path / "s.parquet").field("area_m2")
    assert field.metadata == {b"label": b"Lot area", b"unit": b"m2", b"meaning": b"Area of the lot polygon"}


def test_hostile_text_survives_and_two_builds_are_the_same(
    hostile_result: BlockResult, hostile_text: str, tmp_path: Path
) -> None:
    for name in ("a", "b"):
        write_parquet(hostile_result, tmp_path / f"{name}.parquet")
    assert gpd.read_parquet(tmp_path / "a.parquet")["lot_id"].tolist()[0] == hostile_text
    assert (tmp_path / "a.parquet").read_bytes() == (tmp_path / "b.parquet").read_bytes()
