"""Point precipitation frequency tables as depths in millimetres."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from screening.errors import InputError
from screening.inputs.tables.numbers import number_of
from screening.models import RainfallTable
from screening.schema.codes.storm import Series
from screening.units import MM_PER_IN

COARSEST_ROUNDING_FRAC = 0.10
"""Rows whose last printed digit is coarser than this share of their smallest value are left out."""
_HOURS = {"min": 1.0 / 60.0, "hr": 1.0, "hour": 1.0, "day": 24.0}
_DURATION = re.compile(r"^(\d+(?:\.\d+)?)\s*-?\s*(min|hr|hour|day)[a-z]*\s*:?$", re.IGNORECASE)
_HEADER = re.compile(r"by duration for (ARI|AEP)", re.IGNORECASE)
_UNIT = re.compile(r"\(\s*(inch(?:es)?|in|millimet(?:er|re)s?|mm)\s*(/\s*(?:h|hr|hour))?\s*\)", re.IGNORECASE)
_BOUND = re.compile(r"upper|lower|confidence|bound", re.IGNORECASE)
_MEND = "download the point table again as text from the precipitation frequency data server, and keep its header"


@dataclass(frozen=True)
class _Block:
    """One table of the file: its header cells, and its rows of cells by line."""

    title: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, kw_only=True)
class _Row:
    """One duration: depths in the unit of the file, and how far rounding in print leaves each open."""

    label: str
    duration_h: float
    depths: tuple[float, ...]
    rounding: tuple[float, ...]
    is_coarse: bool


def read_rainfall(path: Path | str) -> RainfallTable:
    """Read a NOAA Atlas 14 point table of precipitation depths or intensities.

    Parameters
    ----------
    path
        Text or comma-separated file as the precipitation frequency data server gives it, or re-saved.

    Returns
    -------
    Depths [mm]; `source` says what the file says of itself and what was left out.

    Raises
    ------
    InputError
        The file has no table or no unit, a cell is no number, or depths fall with duration or return period.

    References
    ----------
    NOAA Atlas 14, point precipitation frequency estimates: labels as the data server writes them.
    """
    path = Path(path)
    lines = [_cells(line) for line in _text(path).splitlines()]
    is_inches, is_intensity = _units(lines, path)
    block = _mean_block(lines, path)
    is_probability = "aep" in block.header[0].lower()
    periods_yr = tuple(_return_period(cell, is_probability, path) for cell in block.header[1:])
    if not periods_yr or list(periods_yr) != sorted(set(periods_yr)):
        raise _refusal("The return periods do not ascend", path, got=", ".join(block.header[1:]) or "none")
    rows: list[_Row] = []
    coarse: list[_Row] = []
    for cells in block.rows:
        row = _row(cells, len(periods_yr), is_intensity, path)
        (coarse if row.is_coarse else rows).append(row)
    durations_h = tuple(row.duration_h for row in rows)
    if not rows or list(durations_h) != sorted(set(durations_h)):
        raise _refusal("The durations do not ascend, or none is left", path, got=f"{len(rows)} usable rows")
    _check_rising(rows, periods_yr, path)
    printed = np.array([row.depths for row in rows]) * (MM_PER_IN if is_inches else 1.0)
    depth_mm = np.maximum.accumulate(np.maximum.accumulate(printed, axis=0), axis=1)
    source = _source(lines, path, coarse, n_levelled=int((depth_mm > printed).sum()))
    series = _series(lines, is_probability=is_probability)
    return RainfallTable(
        durations_h=durations_h,
        return_periods_yr=periods_yr,
        depth_mm=tuple(map(tuple, depth_mm.tolist())),
        source=source,
        series=series,
    )


def _text(path: Path) -> str:
    """Read text in the encodings that servers and spreadsheets write."""
    if not path.is_file():
        raise InputError("The rainfall table is not there", got=str(path), mend="correct the path")
    data = path.read_bytes()
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", errors="replace")
    if data[:200].count(b"\0") > 20:
        return data.decode("utf-16-le" if data[1:2] == b"\0" else "utf-16-be", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _cells(line: str) -> tuple[str, ...]:
    """Split a line and drop the empty cells that a spreadsheet leaves at its end."""
    cells = [cell.strip().strip('"').strip() for cell in re.split(r"[,;\t]", line)]
    while cells and not cells[-1]:
        cells.pop()
    return tuple(cells)


def _units(lines: list[tuple[str, ...]], path: Path) -> tuple[bool, bool]:
    """Read from the header whether values are inches, and whether they are intensities."""
    head = [" ".join(cells) for cells in lines[: _first_table(lines)]]
    found = next((match for text in head if (match := _UNIT.search(text))), None)
    if found is None:
        raise _refusal(
            "The rainfall table does not say its unit",
            path,
            got="no line with (inches), (millimeters) or the like",
            expected="a first line such as 'Point precipitation frequency estimates (inches)'",
        )
    is_intensity = found.group(2) is not None
    stated = " ".join(text.lower() for text in head if text.lower().startswith("data type"))
    if ("intensity" in stated and not is_intensity) or ("depth" in stated and is_intensity):
        raise _refusal("The rainfall table contradicts itself", path, got=f"{found.group(0)} and {stated!r}")
    return found.group(1).lower().startswith("in"), is_intensity


def _series(lines: list[tuple[str, ...]], *, is_probability: bool) -> Series:
    """Read which series the estimates are of; probabilities a year are those of annual maxima."""
    head = " ".join(" ".join(cells) for cells in lines[: _first_table(lines)]).lower()
    if is_probability or re.search(r"series type:?\s*annual", head):
        return Series.ANNUAL_MAXIMUM
    return Series.PARTIAL_DURATION if re.search(r"series type:?\s*partial", head) else Series.UNKNOWN


def _first_table(lines: list[tuple[str, ...]]) -> int:
    return next((row for row, cells in enumerate(lines) if cells and _DURATION.match(cells[0])), len(lines))


def _mean_block(lines: list[tuple[str, ...]], path: Path) -> _Block:
    """Find the table of the estimates themselves, not of their confidence bounds."""
    blocks = []
    for row, cells in enumerate(lines):
        if not cells or not _HEADER.search(cells[0]):
            continue
        title = next((" ".join(above) for above in reversed(lines[:row]) if above), "")
        rows = []
        for below in lines[row + 1 :]:
            if below and not _DURATION.match(below[0]):
                break
            if below:
                rows.append(below)
            elif rows:
                break
        blocks.append(_Block(title, cells, tuple(rows)))
    blocks = [block for block in blocks if block.rows]
    if not blocks:
        raise _refusal(
            "The rainfall table has no estimates",
            path,
            got="no line 'by duration for ARI (years):' with rows below it",
            expected="a NOAA Atlas 14 point table; some states have none and the server answers without one",
        )
    means = [block for block in blocks if not _BOUND.search(block.title)]
    if not means:
        raise _refusal("The rainfall table holds only confidence bounds", path, got=blocks[0].title)
    return means[0]


def _return_period(cell: str, is_probability: bool, path: Path) -> float:
    """Read years such as `100`, or an annual exceedance probability such as `'1/100`."""
    match = re.fullmatch(r"'?\s*1\s*/\s*(\d+)" if is_probability else r"(\d+(?:\.\d+)?)", cell)
    if match is None or float(match.group(1)) < 1:
        raise _refusal(
            "A return period cannot be read",
            path,
            got=repr(cell),
            expected="1/years (a spreadsheet may have turned it into a date)" if is_probability else "years",
        )
    return float(match.group(1))


def _duration_h(cell: str) -> float:
    match = _DURATION.match(cell)
    assert match is not None  # rows of a block start with a duration
    return float(match.group(1)) * _HOURS[match.group(2).lower()]


def _row(cells: tuple[str, ...], n_values: int, is_intensity: bool, path: Path) -> _Row:
    """Read a row as depths, with what rounding in print leaves open (three figures, or the last digit)."""
    label, duration_h = cells[0].rstrip(":"), _duration_h(cells[0])
    if len(cells) - 1 != n_values:
        raise _refusal(
            f"Row {label} has the wrong number of values",
            path,
            got=f"{len(cells) - 1}",
            expected=f"{n_values}",
        )
    values = [number_of(cell) for cell in cells[1:]]
    if any(math.isnan(value) for value in values):
        raise _refusal(f"Row {label} holds something that is no number", path, got=", ".join(cells[1:]))
    if not all(0.0 <= value < 1e5 for value in values):
        raise _refusal(f"Row {label} holds an impossible rain", path, got=", ".join(cells[1:]))
    last_digit = 0.5 * 10.0 ** -max(len(cell.partition(".")[2]) for cell in cells[1:])
    factor = duration_h if is_intensity else 1.0
    return _Row(
        label=label,
        duration_h=duration_h,
        depths=tuple(value * factor for value in values),
        rounding=tuple(max(last_digit, 0.005 * value) * factor for value in values),
        is_coarse=min(values) == 0.0 or (is_intensity and last_digit > COARSEST_ROUNDING_FRAC * min(values)),
    )


def _check_rising(rows: list[_Row], periods_yr: tuple[float, ...], path: Path) -> None:
    """Refuse rain that falls with duration or return period by more than its rounding."""
    depths = np.array([row.depths for row in rows])
    rounding = np.array([row.rounding for row in rows])
    for axis, along in ((0, "duration"), (1, "return period")):
        slack = np.delete(rounding, 0, axis=axis) + np.delete(rounding, -1, axis=axis)
        wrong = np.argwhere(np.diff(depths, axis=axis) < -slack)
        if len(wrong):
            row, col = wrong[0] + (1 - axis, axis)
            raise _refusal(
                f"The rain falls with {along}",
                path,
                got=f"row {rows[row].label}, return period {periods_yr[col]:g} yr",
                expected="depths that rise with duration and return period",
            )


def _source(lines: list[tuple[str, ...]], path: Path, coarse: list[_Row], *, n_levelled: int) -> str:
    """Put together what the file says of itself."""
    head = [", ".join(cell for cell in cells if cell) for cells in lines[: _first_table(lines)]]
    said = [text for text in head if text.startswith("NOAA Atlas")]
    for label in ("Time series type", "Data type", "Location name", "Latitude", "Longitude"):
        for text in head:
            name, _, value = text.partition(":")
            if name.strip().startswith(label) and value.strip() not in ("", "None", "-"):
                said.append(f"{label.split()[0].lower()} {value.strip()}" if label.startswith("L") else value.strip())
    said.append(f"file {path.name}")
    if coarse:
        rows = ", ".join(row.label for row in coarse)
        said.append(f"rows {rows} left out: printed too coarsely to give a depth")
    if n_levelled:
        said.append(f"{n_levelled} depths that rounding in print made fall were levelled")
    return "; ".join(said)


def _refusal(what: str, path: Path, *, got: str, expected: str = "", mend: str = _MEND) -> InputError:
    return InputError(f"{what} ({path.name})", got=got, expected=expected, mend=mend)
