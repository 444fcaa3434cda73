"""All files of a screening: each is made beside its place and moved there whole, or not at all."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from screening.errors import OutputError
from screening.models import BlockResult
from screening.schema.columns import plain_text_columns
from screening.schema.criteria import Criteria
from screening.schema.layers import all_layers
from screening.units import UnitSystem

FILE_NAMES: dict[str, str] = {
    "map": "map.html",
    "summary_csv": "summary.csv",
    "summary_xlsx": "summary.xlsx",
    "summary_parquet": "summary.parquet",
    "structures_csv": "structures.csv",
    "structure_sides_csv": "structure_sides.csv",
    "interception_lines_csv": "interception_lines.csv",
    "visit_sheet": "visit_sheet.html",
    "visit_sheet_csv": "visit_sheet.csv",
    "summary_gpkg": "summary.gpkg",
    "result_json": "result.json",
    "criteria": "used_criteria.toml",
}
"""Names of the files that `write_outputs` makes, by what they are; briefs are named after their lots."""
_DRAFT_MARK = ".writing-"


def write_outputs(
    result: BlockResult,
    out_dir: str | os.PathLike[str],
    *,
    units: UnitSystem = "metric",
    title: str = "",
    provenance: Mapping[str, Any] | None = None,
    basemap_url: str | None = None,
    basemap_attribution: str | None = None,
    rasters: bool = False,
    briefs: Sequence[str] | None = None,
) -> dict[str, Path]:
    """Write map, tables, briefs, the sheet for the visit, the result and the criteria used, and the rasters if asked.

    All files are made under temporary names first; when every one is whole they are moved to their places.

    Parameters
    ----------
    result
        What was found.
    out_dir
        Folder; made if it is not there. Files of the same names in it are replaced.
    units
        What the map, the workbook and the briefs show; other tables stay in SI, as their column names say.
    title, basemap_url, basemap_attribution
        As `build_map` takes them.
    provenance
        Name and value of what a reader must know of the data, such as date, files and command.
    rasters
        Write `rasters.RASTERS` too, as GeoTIFF.
    briefs
        Lots to write a brief of, as `brief_files.brief_lots` reads them; None = the lot to visit first.

    Returns
    -------
    Paths by the keys of `FILE_NAMES`, of `brief_files.brief_writers`, and of `rasters.RASTERS` if they were asked for.

    Raises
    ------
    OutputError
        The folder or a file cannot be written; nothing half written is left.
    InputError
        The base map address cannot be used, or a brief was asked for of a lot that is not there.
    """
    from screening.report.brief.files import brief_writers
    from screening.report.map.page import build_map
    from screening.report.tables.files import criteria_toml, write_csv, write_json
    from screening.report.tables.geopackage import write_geopackage
    from screening.report.tables.parquet import write_parquet
    from screening.report.tables.rasters import raster_writers
    from screening.report.tables.workbook import write_workbook
    from screening.report.visit.page import visit_page

    folder = make_folder(Path(out_dir))

    def write_map(path: Path) -> None:
        page = build_map(
            result,
            units=units,
            title=title,
            provenance=provenance,
            basemap_url=basemap_url,
            basemap_attribution=basemap_attribution,
        )
        path.write_text(page, encoding="utf-8", newline="\n")

    writers: dict[str, Callable[[Path], None]] = {
        "map": write_map,
        **{
            f"{layer.table_name}_csv": partial(write_csv, result, name=layer.table_name)
            for layer in all_layers()
            if layer.has_csv
        },
        "summary_xlsx": lambda path: write_workbook(result, path, units=units, title=title),
        "summary_parquet": lambda path: write_parquet(result, path),
        "visit_sheet": lambda path: _write_text(path, visit_page(result, units=units, title=title)),
        "visit_sheet_csv": lambda path: write_csv(result, path, name="visit_sheet"),
        "summary_gpkg": lambda path: write_geopackage(result, path),
        "result_json": lambda path: write_json(result, path, provenance=provenance),
        "criteria": lambda path: _write_text(path, criteria_toml(result.criteria)),
    }
    # In the order of the names; tables of extensions follow.
    keys = dict.fromkeys([*FILE_NAMES, *writers])
    named = {key: (FILE_NAMES.get(key, f"{key.removesuffix('_csv')}.csv"), writers[key]) for key in keys}
    named |= brief_writers(result, briefs, units=units, title=title, provenance=provenance)
    return write_all(folder, named | raster_writers(result) if rasters else named)


def write_criteria(criteria: Criteria, path: Path) -> None:
    """Write thresholds with their sources as TOML; a file of that name is replaced.

    Raises
    ------
    OutputError
        The file cannot be written.
    """
    from screening.report.tables.files import criteria_toml

    text = criteria_toml(criteria)
    write_all(make_folder(path.parent), {"criteria": (path.name, lambda draft: _write_text(draft, text))})


def _write_text(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")


def make_folder(folder: Path) -> Path:
    """Make a folder for outputs if it is not there.

    Raises
    ------
    OutputError
        It cannot be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(
            "The output folder cannot be made",
            got=f"{folder} ({error.strerror or error})",
            expected="a folder that can be written",
            mend="choose another --out",
        ) from error
    return folder


@plain_text_columns()
def write_all(folder: Path, writers: Mapping[str, tuple[str, Callable[[Path], None]]]) -> dict[str, Path]:
    """Make all files under temporary names, and move them to their places when every one is whole.

    Parameters
    ----------
    folder
        Where they go.
    writers
        File name, and what writes the file to a path, by key.

    Returns
    -------
    Paths by the same keys.

    Raises
    ------
    OutputError
        A file cannot be written; nothing half written is left.
    """
    places = {key: folder / name for key, (name, _) in writers.items()}
    # The suffix stays, because the GeoPackage writer asks for it.
    drafts = {key: folder / f"{_DRAFT_MARK}{os.getpid()}-{name}" for key, (name, _) in writers.items()}
    try:
        _check_places(places.values())
        _remove_abandoned(folder)
        for key, (_, write) in writers.items():
            write(drafts[key])
        for key, draft in drafts.items():
            draft.replace(places[key])
    except OSError as error:
        raise _cannot_write(folder, error) from error
    except Exception as error:
        # The GeoPackage writer has its own error for a folder that cannot be written.
        if type(error).__name__ == "DataSourceError":
            raise _cannot_write(folder, error) from error
        raise
    finally:
        for draft in drafts.values():
            for left in (draft, draft.with_name(draft.name + "-journal")):
                left.unlink(missing_ok=True)
    return places


def _remove_abandoned(folder: Path) -> None:
    """Remove drafts of runs that were killed: those whose process is gone."""
    if os.name != "posix":
        return  # elsewhere there is no way to ask for a process without touching it
    for draft in folder.glob(f"{_DRAFT_MARK}*"):
        number = draft.name.removeprefix(_DRAFT_MARK).partition("-")[0]
        try:
            os.kill(int(number), 0)
        except ProcessLookupError:
            draft.unlink(missing_ok=True)
        except (ValueError, OverflowError, PermissionError):
            continue


def _check_places(places: Any) -> None:
    for place in places:
        if place.is_dir():
            raise OutputError(
                "A folder stands where a file must go",
                got=str(place),
                expected="a file or nothing",
                mend="move it away or choose another --out",
            )


def _cannot_write(folder: Path, error: Exception) -> OutputError:
    return OutputError(
        "The outputs cannot be written",
        got=f"{folder} ({error})",
        expected="a folder that can be written, with room",
        mend="check its permissions and free space, or choose another --out",
    )
