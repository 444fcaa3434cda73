"""How the numbers of a result came to be, printed again from `result.json` alone."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from screening.errors import InputError
from screening.report.tables.files import RESULT_FORMAT
from screening.schema.layers import all_tables
from screening.units import format_value

_NEEDED = ("format", "versions", "provenance", "storm", "criteria", "thresholds", "summary", "verdicts", "notes")


def read_result(path: Path) -> dict[str, Any]:
    """Read a `result.json`.

    Raises
    ------
    InputError
        It is not there, is no result, or one of another format.
    """
    mend = "give the result.json that a screening wrote"
    try:
        document: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    except OSError as problem:
        raise InputError("The result cannot be opened", got=f"{path} ({problem.strerror})", mend=mend) from problem
    except (ValueError, RecursionError) as problem:
        raise InputError(f"The result {path.name} is not JSON", got=str(problem)[:80], mend=mend) from problem
    missing = [key for key in _NEEDED if not isinstance(document, dict) or key not in document]
    if missing:
        raise InputError(f"The file {path.name} is no result of a screening", got=f"no {missing[0]}", mend=mend)
    if document["format"] != RESULT_FORMAT:
        raise InputError(
            f"The result {path.name} has another format",
            got=str(document["format"]),
            expected=str(RESULT_FORMAT),
            mend="read it with the version that wrote it, or screen again",
        )
    return document


def trace_result(document: dict[str, Any], *, lot_ids: tuple[str, ...] = (), name: str = "result.json") -> str:
    """Say of each lot what its numbers mean, which checks were made of them, and what they rest on.

    Parameters
    ----------
    document
        From `read_result`.
    lot_ids
        Lots to say it of; all where there is none.
    name
        Of the file, for messages.

    Raises
    ------
    InputError
        A lot is not in the result, or the file lacks a part.
    """
    known = [row.get("lot_id") for row in document["summary"]]
    lost = [lot_id for lot_id in lot_ids if lot_id not in known]
    if lost:
        raise InputError(
            f"There is no lot {lost[0]!r} in {name}", expected=", ".join(map(str, known[:8])), mend="correct --lot-id"
        )
    try:
        lines = [*_basis(document)]
        for row in document["summary"]:
            if not lot_ids or row["lot_id"] in lot_ids:
                lines += ["", *_lot(row, document["verdicts"])]
        lines += ["", "Notes", *(f"  {note['kind']}, {note['subject']}: {note['text']}" for note in document["notes"])]
    except (KeyError, TypeError, AttributeError, ValueError) as problem:
        raise InputError(
            f"The result {name} lacks a part", got=repr(problem), mend="give the result.json that a screening wrote"
        ) from problem
    return "\n".join(lines)


def _basis(document: dict[str, Any]) -> Iterator[str]:
    provenance, storm = document["provenance"], document["storm"]
    yield "Made with " + ", ".join(f"{name} {number}" for name, number in document["versions"].items() if number)
    hashes = provenance.get("sha256", {})
    for subject, file in provenance.get("files", {}).items():
        yield f"Input {subject}: {file}, SHA-256 {hashes.get(subject) or 'not known'}"
    for label, text in provenance.get("decisions", {}).items():
        yield f"Decided {label.replace('_', ' ')}: {text}"
    yield f"Grid: {provenance.get('crs')}, cells of {provenance.get('cell_m')} m"
    yield f"Storm: {storm['label']}, {storm['depth_mm']:g} mm ({storm['source']})"
    yield f"Thresholds: {document['thresholds']}"
    n, seed = (document["criteria"].get(key) for key in ("n_realisations", "error_seed"))
    yield f"Elevation error: {n} realisations, seed {seed}"


def _lot(row: dict[str, Any], verdicts: list[dict[str, Any]]) -> Iterator[str]:
    yield f"Lot {row['lot_id']}"
    for column in all_tables()["summary"]:
        value = row.get(column.name)
        is_number = column.kind == "number" and not isinstance(value, str)
        shown = format_value(value, column.unit) if is_number else "not known" if value is None else str(value)
        yield f"  {column.name} = {shown}"
        yield f"    {column.meaning}"
    own = [verdict for verdict in verdicts if verdict["lot_id"] == row["lot_id"]]
    for verdict in own:
        value = "not known" if verdict["value"] is None else f"{verdict['value']:.6g}"
        yield (
            f"  {verdict['outcome']}: {verdict['check']}, {verdict['subject_kind']} {verdict['subject_id']}: "
            f"{verdict['statistic']} {value} {verdict['operator']} {verdict['threshold']:g} {verdict['unit']}, "
            f"{verdict['points']:g} points"
        )
        yield f"    {verdict['source']}" + (f"; {verdict['note']}" if verdict["note"] else "")
    points = sum(verdict["points"] for verdict in own)
    yield f"  visit_score {row['visit_score']:g} = sum of the points above ({points:g})"
