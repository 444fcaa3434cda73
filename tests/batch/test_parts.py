import dataclasses
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from screening.batch.parts import Part, parts_folder, read_parts, sweep_drafts, table_path, winners, write_part
from screening.batch.tasks import Chunk
from screening.errors import OutputError
from screening.models import note
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from tests.blocks import CRS

HOSTILE = ("../x", "CON", "a" * 300, "two\nlines", "", "ø/\\:*?\0", "\ud800")


def tables(ids):
    lots = gpd.GeoDataFrame({"lot_id": list(ids)}, geometry=[shapely.box(0, 0, 1, 2)] * len(ids), crs=CRS)
    return {"lots": lots, "structures": lots, "verdicts": pd.DataFrame({"lot_id": list(ids)})}


def write(out, name, done, failed=None):
    parts_folder(out).mkdir(exist_ok=True)
    write_part(out, Part(name=name, done=done, failed=failed or {}), tables(done) if done else {})


def test_a_part_is_read_back_and_nothing_else_is_left(tmp_path):
    write(tmp_path, "a", ("1", "two\nlines"), {"3": "why"})
    (part,) = read_parts(tmp_path)
    assert (part.done, part.failed) == (("1", "two\nlines"), {"3": "why"})
    assert sorted(path.suffix for path in parts_folder(tmp_path).iterdir()) == [".json"] + [".parquet"] * 3


def test_notes_of_a_part_are_read_back(tmp_path):
    said = note(
        NoteKind.CAUTION, NoteSubject.WINDOW, NoteCode.WINDOW_AT_CELLS, beyond="unknown", cells_max=9, stopped="ø"
    )
    parts_folder(tmp_path).mkdir()
    write_part(tmp_path, Part(name="a", done=(), failed={"1": "why"}, notes=(said,)), {})
    assert [part.notes for part in read_parts(tmp_path)] == [(said,)]


def test_without_its_tables_a_part_does_not_count(tmp_path):
    write(tmp_path, "a", ("1",))
    write(tmp_path, "b", (), {"2": "why"})
    table_path(tmp_path, "a", "verdicts").unlink()
    assert [part.name for part in read_parts(tmp_path)] == ["b"]


def test_findings_win_over_reasons_and_the_later_over_the_earlier():
    old, retried = (
        Part(name="old", done=("1",), failed={"2": "first", "3": "first"}),
        Part(name="new", done=("2",), failed={"3": "then"}),
    )
    assert winners([old, retried]) == ({"1": "old", "2": "new"}, {"3": "then"})
    late = dataclasses.replace(old, failed={"2": "again"})
    assert winners([retried, late])[0]["2"] == "new"


def test_file_names_hold_nothing_of_an_id():
    names = {Chunk(7, (lot_id,)).name for lot_id in HOSTILE}
    assert len(names) == len(HOSTILE)
    assert all(name.isascii() and Path(name).name == name and len(name) < 30 for name in names)
    assert Chunk(7, ("a", "b")).name != Chunk(7, ("ab",)).name


def test_what_killed_workers_left_is_swept(tmp_path):
    write(tmp_path, "a", ("1",))
    (parts_folder(tmp_path) / ".writing-1-x-a.lots.parquet").write_bytes(b"half")
    sweep_drafts(tmp_path)
    assert not list(parts_folder(tmp_path).glob(".writing*"))
    assert len(read_parts(tmp_path)) == 1


def test_a_full_disk_has_a_clear_message_and_leaves_no_half_file(tmp_path, monkeypatch):
    parts_folder(tmp_path).mkdir()

    def full(self, *_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(gpd.GeoDataFrame, "to_parquet", full)
    with pytest.raises(OutputError, match=r"No space left on device.*what is done is kept"):
        write_part(tmp_path, Part(name="a", done=("1",), failed={}), tables(("1",)))
    assert not list(parts_folder(tmp_path).iterdir())
