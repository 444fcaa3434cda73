from __future__ import annotations

from pathlib import Path

import pytest

from screening.errors import InputError, OutputError
from screening.models import BlockResult
from screening.report import outputs, write_outputs
from screening.report.outputs import FILE_NAMES


def files_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_every_file_is_written_and_named(tiny_result: BlockResult, tmp_path: Path) -> None:
    written = write_outputs(tiny_result, tmp_path / "new" / "out", title="Two lots", provenance={"date": "2026-01-02"})
    briefs = {"brief_A-1": "brief_A-1.html", "brief_A-1_pdf": "brief_A-1.pdf"}
    assert {key: path.name for key, path in written.items()} == FILE_NAMES | briefs
    assert files_in(tmp_path / "new" / "out") == sorted((FILE_NAMES | briefs).values())
    assert all(path.stat().st_size > 200 for path in written.values())
    page = written["map"].read_text(encoding="utf-8")
    assert "<title>Two lots</title>" in page
    assert "2026-01-02" in page


def test_files_are_replaced(tiny_result: BlockResult, tmp_path: Path) -> None:
    (tmp_path / "summary.csv").write_text("old", encoding="utf-8")
    written = write_outputs(tiny_result, tmp_path)
    assert "A-1" in written["summary_csv"].read_text(encoding="utf-8-sig")


@pytest.mark.parametrize(
    "broken", ["tables.geopackage.write_geopackage", "tables.files.write_json", "tables.files.criteria_toml"]
)
@pytest.mark.parametrize("error", [RuntimeError("bug"), OSError(28, "No space left on device")])
def test_a_failure_leaves_what_was_there(
    tiny_result: BlockResult, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, broken: str, error: Exception
) -> None:
    (tmp_path / "map.html").write_text("old", encoding="utf-8")

    def fail(*args: object, **options: object) -> str:
        for path in args:
            if isinstance(path, Path):
                path.write_text("half", encoding="utf-8")
        raise error

    monkeypatch.setattr(f"screening.report.{broken}", fail)
    with pytest.raises(OutputError if isinstance(error, OSError) else RuntimeError):
        write_outputs(tiny_result, tmp_path)
    assert files_in(tmp_path) == ["map.html"]
    assert (tmp_path / "map.html").read_text(encoding="utf-8") == "old"


def test_a_file_in_the_way_of_the_folder(tiny_result: BlockResult, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file", encoding="utf-8")
    with pytest.raises(OutputError, match="folder cannot be made"):
        write_outputs(tiny_result, tmp_path / "out")
    assert (tmp_path / "out").read_text(encoding="utf-8") == "a file"


def test_a_folder_in_the_way_of_a_file(tiny_result: BlockResult, tmp_path: Path) -> None:
    (tmp_path / "summary.gpkg").mkdir()
    with pytest.raises(OutputError, match="A folder stands where a file must go"):
        write_outputs(tiny_result, tmp_path)
    assert files_in(tmp_path) == ["summary.gpkg"]


def test_a_folder_that_cannot_be_written(
    tiny_result: BlockResult, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Permissions do not bind every user, so the refusal is acted.
    def refuse(path: Path, text: str) -> None:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(outputs, "_write_text", refuse)
    with pytest.raises(OutputError, match="Permission denied"):
        write_outputs(tiny_result, tmp_path)
    assert files_in(tmp_path) == []


def test_a_geopackage_that_cannot_be_opened(
    tiny_result: BlockResult, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from pyogrio.errors import DataSourceError

    def refuse(*_: object) -> None:
        raise DataSourceError("unable to open database file")

    monkeypatch.setattr("screening.report.tables.geopackage.write_geopackage", refuse)
    with pytest.raises(OutputError, match="unable to open database file"):
        write_outputs(tiny_result, tmp_path)
    assert files_in(tmp_path) == []


def test_a_wrong_base_map_is_refused_before_anything_is_written(tiny_result: BlockResult, tmp_path: Path) -> None:
    with pytest.raises(InputError):
        write_outputs(tiny_result, tmp_path, basemap_url="ftp://example.org/{z}/{x}/{y}")
    assert files_in(tmp_path) == []
