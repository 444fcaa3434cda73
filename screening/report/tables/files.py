"""Tables of a screening as files: CSV, JSON and the criteria used. SI units, as the column names say."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from screening.grid import Grid
from screening.models import BlockResult, Note, Rain
from screening.report.cautions import all_cautions
from screening.report.findings import is_missing
from screening.report.once import once_per_result
from screening.report.visit.sheet import visit_rows
from screening.report.words import with_sentences
from screening.report.words.notes import note_words
from screening.report.words.verdicts import row_of
from screening.schema.columns import DECLARED, DTYPES, Column, names, untold
from screening.schema.criteria import PROFILES, Criteria, describe, profile_words
from screening.schema.layers import all_layers, all_tables
from screening.storm.rainfall_tables import return_period_words

if TYPE_CHECKING:
    import pandas as pd

_FORMULA_MARKS = ("=", "+", "-", "@", "\t", "\r")
# What a reader gets may lack a count or an answer, which the plain types cannot say.
_DTYPES = DTYPES | {"count": "Int64", "flag": "boolean"}
_PACKAGES = (
    "screening",
    "numpy",
    "numba",
    "pandas",
    "geopandas",
    "shapely",
    "pyproj",
    "rasterio",
    "whitebox-workflows",
)
_NOTE_FIELDS = ("kind", "subject", "code", "values")
RESULT_FORMAT = 1
"""Number of the shape of `result.json`; it grows when a key changes its meaning or goes."""


@once_per_result
def table_of(result: BlockResult, name: str) -> pd.DataFrame:
    """Give a table of the result as a reader gets it, and geometry where it has one.

    Parameters
    ----------
    result
        What was found.
    name
        Key of `layers.all_tables`.
    """
    return tell_table(name, coded_table(result, name), result.criteria)


def coded_table(result: BlockResult, name: str) -> pd.DataFrame:
    """Give a table of the result with the codes that its sentences are made from, and without these."""
    import pandas as pd

    layers = {layer.table_name: layer for layer in all_layers() if layer.table_name}
    if name in layers:
        rows: pd.DataFrame = layers[name].rows(result)
        return rows
    frames: dict[str, pd.DataFrame] = {
        "driveway_storms": result.driveway_study.storms,
        "infiltration_rejections": result.zones.rejections,
        "storage_options": result.capture.options,
        "quantities": result.capture.quantities,
        "site_cautions": result.capture.cautions,
    }
    # Made of single values, which takes its time: only the one that is asked for.
    made: dict[str, Callable[[], list[dict[str, Any]]]] = {
        "storage_checks": lambda: [row_of(verdict) for verdict in result.capture.verdicts],
        "drain_checks": lambda: [row_of(verdict) for verdict in result.interception.verdicts],
        "visit_sheet": lambda: visit_rows(result, "metric"),
        "verdicts": lambda: [row_of(verdict) for verdict in result.verdicts],
        "notes": lambda: [dict(zip(_NOTE_FIELDS, note.as_row(), strict=True)) for note in result.notes],
    }
    if name in frames:
        return frames[name]
    return pd.DataFrame(made[name](), columns=names(untold(DECLARED[name])))


def tell_table(name: str, frame: pd.DataFrame, criteria: Criteria) -> pd.DataFrame:
    """Give the columns of a table that a reader gets, in their order: sentences are made, codes left out.

    Parameters
    ----------
    name
        Key of `layers.all_tables`.
    frame
        From `coded_table`.
    criteria
        Of the result.
    """
    columns = all_tables()[name]
    frame = with_sentences(name, frame, criteria)
    shapes = ["geometry"] if "geometry" in frame.columns else []
    picked: pd.DataFrame = frame[[*names(columns), *shapes]].reset_index(drop=True)
    # Of a type already: to ask again costs as much as to change it.
    other = {c.name: _DTYPES[c.kind] for c in columns if picked[c.name].dtype != _DTYPES[c.kind]}
    return picked.astype(other) if other else picked


def _note_document(note: Note) -> dict[str, str]:
    told = {"kind": str(note.kind), "subject": str(note.subject), "text": note_words(note)}
    return told | {"code": str(note.code)}


def guard_cell(text: str) -> str:
    """Put an apostrophe before text that a spreadsheet would run as a formula.

    Examples
    --------
    >>> guard_cell("=1+1"), guard_cell("oak street")
    ("'=1+1", 'oak street')
    """
    is_formula = text.startswith(_FORMULA_MARKS) or text.lstrip().startswith(_FORMULA_MARKS)
    return f"'{text}" if is_formula else text


def write_csv(result: BlockResult, path: Path, *, name: str = "summary") -> None:
    """Write a table of `layers.all_tables` as CSV for spreadsheets: UTF-8 with a mark, text guarded against formulas.

    Every row names the set of thresholds, in a last column where the table has none for it.
    """
    write_table_csv(table_of(result, name), all_tables()[name], path, profile=profile_words(result.criteria))


def with_text_types(frame: Any, columns: tuple[Column, ...]) -> Any:
    """State the type of text columns of nothing but nulls: they have none of their own, and a layer would lose them."""
    empty = [column.name for column in columns if column.is_text and frame[column.name].isna().all()]
    return frame.astype(dict.fromkeys(empty, "string")) if empty else frame


def write_table_csv(frame: pd.DataFrame, columns: tuple[Column, ...], path: Path, *, profile: str) -> None:
    """Write the declared columns of a table, and the set of thresholds, as CSV for spreadsheets."""
    frame = frame[names(columns)].copy()
    for column in columns:
        if column.is_text:
            texts = frame[column.name]
            frame[column.name] = [None if is_missing(text) else guard_cell(str(text)) for text in texts]
    if "criteria_profile" not in frame:
        frame = frame.assign(criteria_profile=guard_cell(profile))
    frame.to_csv(path, index=False, encoding="utf-8-sig", lineterminator="\r\n", float_format="%.10g")


def plain(value: Any) -> Any:
    """Turn a value into what JSON knows: NaN and infinity become null, arrays of one become numbers."""
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): plain(part) for key, part in value.items()}
    if isinstance(value, set | frozenset):
        return [plain(part) for part in sorted(value, key=str)]
    if isinstance(value, list | tuple):
        return [plain(part) for part in value]
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    import pandas as pd

    return None if value is pd.NA else str(value)


def as_document(result: BlockResult, provenance: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """Give the result without rasters and shapes, ready for JSON, keys in a fixed order."""
    rain, balance = result.storm.rain, result.ponding
    tables = all_tables()
    left_out = {"notes", *(layer.table_name for layer in all_layers() if not layer.is_in_document)}
    return {
        "format": RESULT_FORMAT,
        "versions": {name: _version_of(name) for name in _PACKAGES},
        "provenance": plain(provenance or {}),
        "grid": _grid_document(result.block.grid),
        "storm": _storm_document(rain),
        "water_balance": plain(
            {
                "runoff_m3": balance.runoff_m3,
                "ponded_m3": balance.ponded_m3,
                "left_window_m3": balance.left_window_m3,
            }
        ),
        "thresholds": profile_words(result.criteria),
        "criteria": {row.name: plain(row.value) for row in describe(result.criteria)},
        **{name: records_of(table_of(result, name), tables[name]) for name in tables if name not in left_out},
        "notes": [_note_document(note) for note in result.notes],
        "cautions": list(all_cautions(result)),
    }


def _storm_document(rain: Rain) -> dict[str, Any]:
    """Give the rain with how often it returns in words: beyond the table there is no number."""
    words = None
    if rain.table is not None and rain.return_period_yr is not None:
        words = return_period_words(rain.return_period_yr, rain.table)
    document: dict[str, Any] = plain(dataclasses.asdict(rain))
    return document | {"returns": words}


def records_of(frame: pd.DataFrame, columns: tuple[Column, ...]) -> list[dict[str, Any]]:
    """Give the declared columns of a table as rows that JSON knows."""
    fields = names(columns)
    values = [[plain(value) for value in frame[field]] for field in fields]
    return [dict(zip(fields, row, strict=True)) for row in zip(*values, strict=True)]


def _grid_document(grid: Grid) -> dict[str, Any]:
    return {**dataclasses.asdict(grid), "bounds_m": list(grid.bounds)}


def _version_of(package: str) -> str | None:
    try:
        return version(package)
    except PackageNotFoundError:
        return None


def write_json(result: BlockResult, path: Path, *, provenance: Mapping[str, Any] | None = None) -> None:
    """Write `as_document` as UTF-8 JSON, a line for each row of a table."""
    write_document(as_document(result, provenance), path)


def write_document(document: Mapping[str, Any], path: Path) -> None:
    """Write what JSON knows as UTF-8: each key, and each part of what it holds, on a line of its own."""
    from json import JSONEncoder

    text_of = JSONEncoder(ensure_ascii=False, allow_nan=False).encode
    lines, between = [], ",\n  "
    for key, value in document.items():
        opened, closed, parts = "", "", [text_of(value)]
        if isinstance(value, list) and value:
            opened, closed, parts = "[\n  ", "\n ]", [text_of(part) for part in value]
        elif isinstance(value, dict) and value:
            opened, closed = "{\n  ", "\n }"
            parts = [f"{text_of(name)}: {text_of(part)}" for name, part in value.items()]
        lines.append(f" {text_of(key)}: {opened}{between.join(parts)}{closed}")
    path.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")


def criteria_toml(criteria: Criteria) -> str:
    """Give the criteria as TOML that reads back to the same values, each under meaning, unit and source."""
    from tomlkit import item

    lines = [
        "# Thresholds of this screening; change a value and give the file back",
        f"# profile: {profile_words(criteria)}",
    ]
    if criteria.profile in PROFILES:
        profile = PROFILES[criteria.profile]
        lines.append(f"# {profile.document}; {profile.note}")
    for row in describe(criteria):
        unit = f" [{row.unit}]" if row.unit else ""
        value = row.value
        text = item(list(value) if isinstance(value, tuple) else value).as_string()
        lines += ["", f"# {row.meaning}{unit}", f"# source: {row.source}", f"{row.name} = {text}"]
    return "\n".join(lines) + "\n"
