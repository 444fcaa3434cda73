"""Files of a trial: the page of before and after, the comparison as tables, the works as a GeoPackage."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any

from screening.models import Trial
from screening.report.improvements.words import change_findings, works_cautions
from screening.report.outputs import make_folder, write_all, write_outputs
from screening.report.tables.files import records_of, with_text_types, write_document, write_table_csv
from screening.schema.columns import WORKS_TABLES
from screening.schema.criteria import profile_words
from screening.units import UnitSystem

WORKS_FILE_NAMES: dict[str, str] = {
    "works_page": "works.html",
    "comparison_csv": "comparison.csv",
    "lot_changes_csv": "lot_changes.csv",
    "work_checks_csv": "work_checks.csv",
    "works_gpkg": "works.gpkg",
    "comparison_json": "comparison.json",
}
"""Names of the files of the comparison; the site before and after has folders of its own."""
_SHAPES = {"Point": "works_points", "LineString": "works_lines", "Polygon": "works_areas"}


def write_works_outputs(
    trial: Trial,
    folder: Path,
    *,
    units: UnitSystem = "metric",
    title: str = "",
    provenance: Mapping[str, Any] | None = None,
    **options: Any,
) -> dict[str, Path]:
    """Write the comparison to a folder, and all files of the site before and after to `before` and `after` in it.

    Parameters
    ----------
    trial
        What was found.
    folder
        Made if it is not there; files of the same names in it are replaced.
    units, title, provenance
        As `outputs.write_outputs` takes them.
    options
        Others of `outputs.write_outputs`.

    Returns
    -------
    Paths by the keys of `WORKS_FILE_NAMES`, then those of the site with `before_` and `after_` in front.

    Raises
    ------
    OutputError
        The folder or a file cannot be written.
    """
    from screening.report.improvements.page import build_works_page

    folder = make_folder(folder)
    about = dict(provenance or {})
    with_works = {**about, "works": [f"{row['kind']} {row['work_id']}" for row in _works(trial)]}
    shared: dict[str, Any] = {"units": units, **options}
    before = write_outputs(trial.before, folder / "before", title=title, provenance=about, **shared)
    heading = f"{title}, with the works" if title else ""
    after = write_outputs(trial.after, folder / "after", title=heading, provenance=with_works, **shared)
    comparison = trial.comparison
    page = build_works_page(trial, units=units, title=title)
    write_table = partial(write_table_csv, profile=profile_words(trial.before.criteria))
    writers = {
        "works_page": lambda path: path.write_text(page, encoding="utf-8", newline="\n"),
        "comparison_csv": lambda path: write_table(comparison.table, WORKS_TABLES["comparison"], path),
        "lot_changes_csv": lambda path: write_table(comparison.lots, WORKS_TABLES["lot_changes"], path),
        "work_checks_csv": lambda path: write_table(comparison.checks, WORKS_TABLES["work_checks"], path),
        "works_gpkg": lambda path: _write_geopackage(trial, path),
        "comparison_json": lambda path: _write_json(trial, path, about, units),
    }
    named = {key: (WORKS_FILE_NAMES[key], write) for key, write in writers.items()}
    written = write_all(folder, named)
    return (
        written
        | {f"before_{key}": path for key, path in before.items()}
        | {f"after_{key}": path for key, path in after.items()}
    )


def _write_geopackage(trial: Trial, path: Path) -> None:
    """Layers of the works by shape, of the lots with what changes, and the tables."""
    import pyogrio

    comparison, is_first = trial.comparison, True
    works = with_text_types(comparison.works, WORKS_TABLES["works"])
    frames = [
        (name, works[works.geometry.geom_type == shape], shape)
        for shape, name in _SHAPES.items()
        if (works.geometry.geom_type == shape).any()
    ]
    lots = with_text_types(comparison.lots, WORKS_TABLES["lot_changes"])
    tables = {"comparison": comparison.table, "work_checks": comparison.checks}
    for name, frame, shape in [*frames, ("lot_changes", lots, "MultiPolygon")]:
        options = {"geometry_type": shape, "promote_to_multi": shape == "MultiPolygon"}
        pyogrio.write_dataframe(frame, path, layer=name, driver="GPKG", append=not is_first, **options)
        is_first = False
    for name, table in tables.items():
        typed = with_text_types(table, WORKS_TABLES[name])
        pyogrio.write_dataframe(typed, path, layer=name, driver="GPKG", append=True)


def _works(trial: Trial) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = trial.comparison.works.drop(columns="geometry").to_dict("records")
    return rows


def _write_json(trial: Trial, path: Path, provenance: Mapping[str, Any], units: UnitSystem) -> None:
    comparison = trial.comparison
    given = [
        {
            "work_id": work.work_id,
            "kind": work.kind,
            "numbers": dict(work.numbers),
            "words": dict(work.words),
            "wkt": work.geometry.wkt,
        }
        for work in trial.works.items
    ]
    document = {
        "findings": [{"mark": mark, "words": words} for mark, words in change_findings(trial, units)],
        "given": given,
        "works": records_of(comparison.works, WORKS_TABLES["works"]),
        "comparison": records_of(comparison.table, WORKS_TABLES["comparison"]),
        "lot_changes": records_of(comparison.lots, WORKS_TABLES["lot_changes"]),
        "work_checks": records_of(comparison.checks, WORKS_TABLES["work_checks"]),
        "notes": [f"{note.kind}: {note.subject}: {note.text}" for note in trial.after.notes if note.subject == "works"],
        "cautions": list(works_cautions()),
        "provenance": dict(provenance),
        "crs": trial.works.crs,
    }
    write_document(document, path)
