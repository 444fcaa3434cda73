from __future__ import annotations

import csv
import io
import json
import tomllib
from pathlib import Path

import numpy as np
import pytest

from screening.models import BlockResult
from screening.report.tables.files import (
    as_document,
    criteria_toml,
    guard_cell,
    plain,
    table_of,
    write_csv,
    write_json,
)
from screening.schema.columns import TABLES, names
from screening.schema.criteria import Criteria, describe, from_mapping


def read_csv(path: Path) -> list[dict[str, str]]:
    content = path.read_bytes()
    assert content.startswith(b"\xef\xbb\xbf")
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))


@pytest.mark.parametrize("mark", ["=", "+", "-", "@", "\t", "\r", " =", "\n@"])
def test_formula_marks_are_guarded(mark: str) -> None:
    assert guard_cell(f"{mark}1+1") == f"'{mark}1+1"


@pytest.mark.parametrize("text", ["", "oak", "1-2", "a=b", "'=1", "5 + 5"])
def test_other_text_is_left_alone(text: str) -> None:
    assert guard_cell(text) == text


@pytest.mark.parametrize("name", TABLES)
def test_tables_have_their_declared_columns(tiny_result: BlockResult, name: str) -> None:
    table = table_of(tiny_result, name)
    assert [column for column in table.columns if column != "geometry"] == names(TABLES[name])
    assert len(table) > 0


def test_csv_has_declared_columns_and_untouched_numbers(tiny_result: BlockResult, tmp_path: Path) -> None:
    write_csv(tiny_result, tmp_path / "s.csv")
    rows = read_csv(tmp_path / "s.csv")
    assert list(rows[0]) == names(TABLES["summary"])
    assert [row["lot_id"] for row in rows] == ["A-1", "A-2"]
    assert rows[0]["run_on_m3"] == "-3.25"
    assert rows[0]["slope_pct"] == ""
    assert rows[0]["visit_rank"] == "1"


def test_hostile_text_survives_csv_whole_and_inert(
    hostile_result: BlockResult, hostile_text: str, tmp_path: Path
) -> None:
    write_csv(hostile_result, tmp_path / "s.csv")
    rows = read_csv(tmp_path / "s.csv")
    assert len(rows) == 2
    assert rows[0]["lot_id"] == guard_cell(hostile_text)
    assert not rows[0]["lot_id"].startswith(("=", "+", "-", "@"))


def test_json_reads_back_without_nan(tiny_result: BlockResult, tmp_path: Path) -> None:
    write_json(tiny_result, tmp_path / "r.json", provenance={"files": {"elevation": Path("e.tif")}, "n": np.int64(2)})
    text = (tmp_path / "r.json").read_text(encoding="utf-8")

    def refuse(name: str) -> None:
        raise AssertionError(name)

    document = json.loads(text, parse_constant=refuse)
    assert document["summary"][0]["slope_pct"] is None
    assert document["summary"][0]["run_on_m3"] == -3.25
    assert document["summary"][0]["edge_contaminated"] is False
    assert document["low_spots"][0]["threshold_rainfall_mm"] is None
    assert document["provenance"] == {"files": {"elevation": "e.tif"}, "n": 2}
    assert document["water_balance"] == {"runoff_m3": 100.0, "ponded_m3": 20.0, "left_window_m3": 80.0}
    assert document["grid"]["crs"] == "EPSG:26917"
    assert document["storm"]["depth_mm"] == 108.2
    assert [verdict["outcome"] for verdict in document["verdicts"]] == ["passed", "failed", "not assessed", "failed"]
    assert len(document["cautions"]) == 10
    assert document["cautions"][0].startswith("Storage ST-1: Slope of the ground: 25.0% (threshold 20.0%)")


def test_json_keys_keep_their_order(tiny_result: BlockResult) -> None:
    document = as_document(tiny_result)
    assert list(document)[:5] == ["format", "versions", "provenance", "grid", "storm"]
    assert list(document["summary"][0]) == names(TABLES["summary"])
    assert list(document["criteria"]) == [row.name for row in describe(Criteria())]
    assert json.dumps(document) == json.dumps(as_document(tiny_result))


def test_hostile_text_survives_json(hostile_result: BlockResult, hostile_text: str, tmp_path: Path) -> None:
    write_json(hostile_result, tmp_path / "r.json")
    document = json.loads((tmp_path / "r.json").read_text(encoding="utf-8"))
    assert document["summary"][0]["lot_id"] == hostile_text


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (float("inf"), None),
        (np.float32("nan"), None),
        (np.bool_(True), True),
        ({"b": (1, np.int32(2))}, {"b": [1, 2]}),
        (frozenset({"b", "a"}), ["a", "b"]),
        (np.array([1.5, np.nan]), [1.5, None]),
    ],
)
def test_plain_values(value: object, expected: object) -> None:
    assert plain(value) == expected


@pytest.mark.parametrize(
    "criteria", [Criteria(), Criteria.of(infiltration_groups=("A",), setback_well_m=12.5, nodata_drains=False)]
)
def test_criteria_read_back_to_the_same_values(criteria: Criteria) -> None:
    assert from_mapping(tomllib.loads(criteria_toml(criteria))) == criteria


def test_each_criterion_stands_under_meaning_unit_and_source() -> None:
    lines = criteria_toml(Criteria()).splitlines()
    for row in describe(Criteria()):
        at = next(index for index, line in enumerate(lines) if line.startswith(f"{row.name} = "))
        unit = f" [{row.unit}]" if row.unit else ""
        assert lines[at - 2] == f"# {row.meaning}{unit}"
        assert lines[at - 1] == f"# source: {row.source}"
