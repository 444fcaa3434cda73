"""Proposed improvements: points, lines and areas with their kind and numbers, checked one by one."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np

from screening.errors import InputError
from screening.inputs.tables.numbers import number_of
from screening.inputs.vector.features import feature_table
from screening.inputs.vector.geometries import OTHER_KINDS, Kind, listed
from screening.inputs.vector.ids import find_column, text_of
from screening.inputs.vector.improvement_links import check_together, with_outlet
from screening.inputs.vector.layers import Layer, open_layer, read_layer, split_layer
from screening.models import Improvement, Improvements, Note, note
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from screening.schema.work_kinds import (
    FLAG_WORDS,
    UNITS,
    ImprovementKind,
    ImprovementNumber,
    all_kinds,
    kind_of_word,
)

IMPROVEMENT_ID_NAMES = ("improvement_id", "id")
_KNOWN_WORDS = ("kind", "type", *IMPROVEMENT_ID_NAMES, "note", "name")
_SHAPES: tuple[Kind, ...] = ("point", "line", "polygon")
_YES, _NO = ("yes", "true", "1", "y"), ("no", "false", "0", "n")


def read_improvements(spec: str | Path, *, crs: str) -> Improvements:
    """Read proposed improvements.

    Parameters
    ----------
    spec
        A GeoJSON, GeoPackage or other vector file, or `PATH::LAYER`; without a layer all layers of a file are read.
        Each feature has a `kind` of `work_kinds.all_kinds`, and that kind's numbers as properties whose names
        end in their unit: `height_m`, `height_ft`, `height_in`.
    crs
        Metre CRS to bring them to.

    Returns
    -------
    The improvements, in the order of the file.

    Raises
    ------
    InputError
        An improvement cannot be tried as it is: the message says which, what is wrong and how to mend it.
    """
    layers = _layers_of(spec)
    items: list[Improvement] = []
    notes: list[Note] = []
    for layer in layers:
        found, layer_notes = _read_layer(layer, crs=crs, n_before=len(items))
        items += found
        notes += layer_notes
    if not items:
        raise InputError(
            "The file of improvements holds no improvement",
            got=str(Path(str(spec)).name),
            expected="at least one feature",
            mend="draw an improvement and save it again",
        )
    file = layers[0].path.name
    check_together(items, file)
    return Improvements(crs=crs, items=tuple(with_outlet(items, file)), notes=tuple(dict.fromkeys(notes)), file=file)


def _layers_of(spec: str | Path) -> list[Layer]:
    import pyogrio
    from pyogrio.errors import DataSourceError

    path, name = split_layer(spec)
    if name is None and path.exists():
        try:
            names = [str(row[0]) for row in pyogrio.list_layers(path) if row[1] is not None]
        except DataSourceError:
            names = []  # open_layer says what is wrong
        if len(names) > 1:
            return [open_layer(f"{path}::{each}", subject="improvements") for each in names]
    return [open_layer(spec, subject="improvements")]


def _read_layer(layer: Layer, *, crs: str, n_before: int) -> tuple[list[Improvement], list[Note]]:
    fids = [int(fid) for fid in feature_table(layer, []).index]
    by_fid: dict[int, Improvement] = {}
    notes: list[Note] = []
    for shape in _SHAPES:
        if not fids or not _may_hold(layer, shape):
            continue
        frame, found = read_layer(layer, crs=crs, bounds=None, want=shape, subject="improvements", fids=fids)
        notes += [each for each in found if each.code not in OTHER_KINDS]
        for fid, row in zip(frame.index, frame.to_dict("records"), strict=True):
            place = fids.index(int(fid)) + 1
            if int(fid) in by_fid or row["_part"] > 0:
                raise _refusal(layer, place, "has several parts", mend="draw each part as an improvement of its own")
            by_fid[int(fid)] = _improvement(layer, row, shape, place, n_before + place, notes)
    lost = [fids.index(fid) + 1 for fid in fids if fid not in by_fid]
    if lost:
        raise InputError(
            f"The {layer.title} holds improvements without a usable place",
            got=f"features number {listed(lost)}",
            expected="a point, a line longer than nothing, or an area of 0.5 m² or more",
            mend="draw them again",
        )
    return [by_fid[fid] for fid in fids], notes


def _may_hold(layer: Layer, shape: Kind) -> bool:
    from screening.inputs.vector.geometries import kind_of_type

    return kind_of_type(layer.geometry_type) in (shape, "")


def _improvement(
    layer: Layer, row: dict[str, Any], shape: Kind, place: int, number: int, notes: list[Note]
) -> Improvement:
    column = find_column(layer.fields, ("kind", "type"))
    word = text_of(row[column]) if column else ""
    kind = kind_of_word(word)
    if kind is None:
        raise _refusal(
            layer,
            place,
            "has no kind" if not word else "is of no kind that is known",
            got=repr(word) if word else "",
            expected=f"one of {', '.join(all_kinds())}",
            mend="write one of these in its property `kind`",
        )
    id_column = find_column(layer.fields, IMPROVEMENT_ID_NAMES)
    improvement_id = (text_of(row[id_column]) if id_column else "") or f"W-{number}"
    called = f"({kind.label.lower()} {improvement_id})"
    if shape not in kind.shapes:
        raise _refusal(
            layer,
            place,
            f"{called} is drawn as a {shape}",
            expected=" or ".join(f"a {each}" for each in kind.shapes),
            mend="draw it again, or correct its kind",
        )
    given = {name: row[name] for name in layer.fields if text_of(row[name]) != ""}
    numbers = _numbers(layer, kind, given, place, called)
    words = _words(layer, kind, given, place, called)
    known = {name.lower() for name in (*_KNOWN_WORDS, *kind.words)} | {
        number.name + ending for number in kind.numbers for ending in UNITS[number.quantity]
    }
    unread = [name for name in given if name.lower() not in known]
    if unread:
        notes.append(
            note(
                NoteKind.CAUTION,
                NoteSubject.IMPROVEMENTS,
                NoteCode.COLUMNS_NOT_READ,
                kind=kind.label.lower(),
                improvement_id=improvement_id,
                columns=listed(unread),
            )
        )
    return Improvement(
        improvement_id=improvement_id, kind=kind.kind, geometry=row["geometry"], numbers=numbers, words=words
    )


def _numbers(layer: Layer, kind: ImprovementKind, given: dict[str, Any], place: int, called: str) -> dict[str, float]:
    by_name = {name.lower(): name for name in given}
    numbers: dict[str, float] = {}
    for number in kind.numbers:
        endings = UNITS[number.quantity]
        there = [by_name[number.name + ending] for ending in endings if number.name + ending in by_name]
        example = " or ".join(number.name + ending for ending in list(endings)[:3])
        if number.name in by_name:
            got = f"{number.name} = {given[by_name[number.name]]}"
            what = f"{called} has {number.name} without a unit in its name"
            raise _refusal(layer, place, what, got=got, mend=f"rename it to {example}")
        if len(there) > 1:
            raise _refusal(layer, place, f"{called} gives one number twice", got=", ".join(there), mend="keep one")
        if not there:
            if number.is_needed:
                raise _refusal(
                    layer, place, f"{called} has no {number.name}", expected=example, mend=f"add {number.label.lower()}"
                )
            continue
        numbers[number.key] = _value(layer, number, there[0], given[there[0]], place, called)
    return numbers


def _value(layer: Layer, number: ImprovementNumber, name: str, raw: Any, place: int, called: str) -> float:
    ending = name.lower().removeprefix(number.name)
    value = number_of(raw) * UNITS[number.quantity][ending]
    if not math.isfinite(value):
        got = repr(raw.tolist() if isinstance(raw, np.ndarray) else raw)
        raise _refusal(layer, place, f"{called} has a {name} that is no number", got=got, mend="write a number")
    # A hair of room, so that a limit stated in feet is not missed by rounding.
    if not -1e-9 * abs(number.low) <= value - number.low <= (number.high - number.low) * (1 + 1e-9):
        raise _refusal(
            layer,
            place,
            f"{called} has a {name} that cannot be",
            got=f"{raw} ({value:g} {number.unit})",
            expected=f"{number.low:g} to {number.high:g} {number.unit}",
            mend="check the number and its unit",
        )
    return value


def _words(layer: Layer, kind: ImprovementKind, given: dict[str, Any], place: int, called: str) -> dict[str, str]:
    words = {name.lower(): text_of(value) for name, value in given.items() if name.lower() in kind.words}
    for name in FLAG_WORDS:
        if name not in words:
            continue
        text = words[name].lower()
        if text not in (*_YES, *_NO):
            raise _refusal(
                layer,
                place,
                f"{called} has a {name} that is neither yes nor no",
                got=repr(words[name]),
                expected="yes or no",
                mend="write one of them, or leave it out",
            )
        words[name] = "yes" if text in _YES else "no"
    return words


def _refusal(layer: Layer, place: int, what: str, *, got: str = "", expected: str = "", mend: str) -> InputError:
    return InputError(f"Feature {place} of the {layer.title} {what}", got=got, expected=expected, mend=mend)
