"""Files of a trial: the page of before and after, the comparison as tables, the improvements as a GeoPackage."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any

from screening.models import Trial
from screening.report.improvements.told import told_table
from screening.report.improvements.words import change_findings, improvement_cautions
from screening.report.outputs import make_folder, write_all, write_outputs
from screening.report.tables.files import records_of, with_text_types, write_document, write_table_csv
from screening.report.words.notes import note_words
from screening.schema.codes.notes import NoteSubject
from screening.schema.columns import IMPROVEMENT_TABLES
from screening.schema.criteria import profile_words
from screening.units import UnitSystem

IMPROVEMENT_FILE_NAMES: dict[str, str] = {
    "works_page": "improvements.html",
    "comparison_csv": "comparison.csv",
    "lot_changes_csv": "lot_changes.csv",
    "work_checks_csv": "improvement_checks.csv",
    "improvements_gpkg": "improvements.gpkg",
    "comparison_json": "comparison.json",
}
"""Names of the files of the comparison; the site before and after has folders of its own."""
_SHAPES = {"Point": "works_points", "LineString": "works_lines", "Polygon": "works_areas"}


def write_improvement_outputs(
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
    Paths by the keys of `IMPROVEMENT_FILE_NAMES`, then those of the site with `before_` and `after_` in front.

    Raises
    ------
    OutputError
        The folder or a file cannot be written.
    """
    from screening.report.improvements.page import build_improvements_page

    folder = make_folder(folder)
    about = dict(provenance or {})
    with_improvements = {
        **about,
        "improvements": [f"{row['kind']} {row['improvement_id']}" for row in _improvements(trial)],
    }
    shared: dict[str, Any] = {"units": units, **options}
    before = write_outputs(trial.before, folder / "before", title=title, provenance=about, **shared)
    heading = f"{title}, with the improvements" if title else ""
    after = write_outputs(trial.after, folder / "after", title=heading, provenance=with_improvements, **shared)
    comparison = trial.comparison
    changes, checks = (told_table(trial, name) for name in ("comparison", "improvement_checks"))
    page = build_improvements_page(trial, units=units, title=title)
    write_table = partial(write_table_csv, profile=profile_words(trial.before.criteria))
    writers = {
        "works_page": lambda path: path.write_text(page, encoding="utf-8", newline="\n"),
        "comparison_csv": lambda path: write_table(changes, IMPROVEMENT_TABLES["comparison"], path),
        "lot_changes_csv": lambda path: write_table(comparison.lots, IMPROVEMENT_TABLES["lot_changes"], path),
        "work_checks_csv": lambda path: write_table(checks, IMPROVEMENT_TABLES["improvement_checks"], path),
        "improvements_gpkg": lambda path: _write_geopackage(trial, path),
        "comparison_json": lambda path: _write_json(trial, path, about, units),
    }
    named = {key: (IMPROVEMENT_FILE_NAMES[key], write) for key, write in writers.items()}
    written = write_all(folder, named)
    return (
        written
        | {f"before_{key}": path for key, path in before.items()}
        | {f"after_{key}": path for key, path in after.items()}
    )


def _write_geopackage(trial: Trial, path: Path) -> None:
    """Layers of the improvements by shape, of the lots with what changes, and the tables."""
    import pyogrio

    comparison, is_first = trial.comparison, True
    improvements = with_text_types(comparison.improvements, IMPROVEMENT_TABLES["improvements"])
    frames = [
        (name, improvements[improvements.geometry.geom_type == shape], shape)
        for shape, name in _SHAPES.items()
        if (improvements.geometry.geom_type == shape).any()
    ]
    lots = with_text_types(comparison.lots, IMPROVEMENT_TABLES["lot_changes"])
    tables = {name: told_table(trial, name) for name in ("comparison", "improvement_checks")}
    for name, frame, shape in [*frames, ("lot_changes", lots, "MultiPolygon")]:
        options = {"geometry_type": shape, "promote_to_multi": shape == "MultiPolygon"}
        pyogrio.write_dataframe(frame, path, layer=name, driver="GPKG", append=not is_first, **options)
        is_first = False
    for name, table in tables.items():
        typed = with_text_types(table, IMPROVEMENT_TABLES[name])
        pyogrio.write_dataframe(typed, path, layer=name, driver="GPKG", append=True)


def _improvements(trial: Trial) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = trial.comparison.improvements.drop(columns="geometry").to_dict("records")
    return rows


def _write_json(trial: Trial, path: Path, provenance: Mapping[str, Any], units: UnitSystem) -> None:
    comparison = trial.comparison
    given = [
        {
            "improvement_id": improvement.improvement_id,
            "kind": improvement.kind,
            "numbers": dict(improvement.numbers),
            "words": dict(improvement.words),
            "wkt": improvement.geometry.wkt,
        }
        for improvement in trial.improvements.items
    ]
    document = {
        "findings": [{"mark": mark, "words": words} for mark, words in change_findings(trial, units)],
        "given": given,
        "improvements": records_of(comparison.improvements, IMPROVEMENT_TABLES["improvements"]),
        "comparison": records_of(told_table(trial, "comparison"), IMPROVEMENT_TABLES["comparison"]),
        "lot_changes": records_of(comparison.lots, IMPROVEMENT_TABLES["lot_changes"]),
        "improvement_checks": records_of(
            told_table(trial, "improvement_checks"), IMPROVEMENT_TABLES["improvement_checks"]
        ),
        "notes": [
            f"{note.kind}: {note.subject}: {note_words(note)}"
            for note in trial.after.notes
            if note.subject is NoteSubject.IMPROVEMENTS
        ],
        "cautions": list(improvement_cautions()),
        "provenance": dict(provenance),
        "crs": trial.improvements.crs,
    }
    write_document(document, path)
