"""Every code of a note has words, and words ask for no more and no less than what their maker gives."""

from __future__ import annotations

import ast
import json
import pickle
import string
from collections.abc import Iterator
from enum import StrEnum
from pathlib import Path

import numpy as np
import pytest

import screening
from screening.models import Note, merge_notes, note
from screening.report.words import with_sentences
from screening.report.words.notes import choices, note_words, templates
from screening.report.words.notes.template import Composed
from screening.report.words.notes.terrain import PIPE_END_WORDS
from screening.schema.codes.notes import (
    BarrierProblem,
    DownspoutProblem,
    NoteCode,
    NoteKind,
    NoteSubject,
    OutletProblem,
    PipeEndProblem,
    UnseenWater,
)
from screening.schema.criteria import Criteria

SOURCE = Path(screening.__file__).parent


def _codes_in(node: ast.AST) -> list[NoteCode]:
    return [
        NoteCode[each.attr]
        for each in ast.walk(node)
        if isinstance(each, ast.Attribute) and isinstance(each.value, ast.Name) and each.value.id == "NoteCode"
    ]


def _keywords(call: ast.Call) -> set[str]:
    return {keyword.arg for keyword in call.keywords if keyword.arg is not None}


def _makers(tree: ast.AST) -> Iterator[tuple[NoteCode, set[str]]]:
    """Codes that a module makes notes of, each with the names of the values given there.

    A maker may be bound to its kind and subject by `partial`, with values of its own, and a code may be chosen into a
    name before the call.
    """
    bound: dict[str, set[str]] = {}
    chosen: dict[str, list[NoteCode]] = {}
    for node in ast.walk(tree):
        if not isinstance(node, ast.Assign):
            continue
        targets, values = [node.targets[0]], [node.value]
        if isinstance(node.targets[0], ast.Tuple) and isinstance(node.value, ast.Tuple):
            targets, values = list(node.targets[0].elts), list(node.value.elts)
        for target, value in zip(targets, values, strict=True):
            if not isinstance(target, ast.Name):
                continue
            if isinstance(value, ast.Call) and getattr(value.func, "id", "") == "partial":
                bound[target.id] = _keywords(value)
            elif isinstance(value, ast.IfExp):
                chosen[target.id] = _codes_in(value)
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = getattr(node.func, "id", "")
        for argument in node.args:
            codes = chosen.get(argument.id, []) if isinstance(argument, ast.Name) else []
            if isinstance(argument, (ast.Attribute, ast.IfExp)):
                codes = _codes_in(argument)
            for code in codes:
                yield code, _keywords(node) | bound.get(name, set())


def _made() -> dict[NoteCode, list[set[str]]]:
    made: dict[NoteCode, list[set[str]]] = {}
    for path in sorted(SOURCE.rglob("*.py")):
        if "report" in path.relative_to(SOURCE).parts:
            continue
        for code, names in _makers(ast.parse(path.read_text(encoding="utf-8"))):
            made.setdefault(code, []).append(names)
    return made


MADE = _made()
LATER = {
    NoteCode.DEGREES_RESAMPLED: {"crs"},
    NoteCode.SCALE_RESAMPLED: {"crs"},
    NoteCode.COORDINATES_MULTIPLIED: {"crs"},
    NoteCode.RESAMPLED_ONTO: {"crs"},
}
"""Values that are given once the metre CRS is chosen."""


def _fields(code: NoteCode) -> set[str]:
    template = templates()[code]
    if isinstance(template, Composed):
        return set(template.fields)
    names = {name for _, name, _, _ in string.Formatter().parse(template) if name}
    return {name.removesuffix("_ha") + "_m2" if name.endswith("_ha") else name for name in names}


def test_every_code_has_words_and_a_maker() -> None:
    assert set(templates()) == set(NoteCode)
    assert set(MADE) == set(NoteCode)


@pytest.mark.parametrize("code", list(NoteCode))
def test_words_tell_what_the_maker_gives(code: NoteCode) -> None:
    for names in MADE[code]:
        assert names | LATER.get(code, set()) == _fields(code)


@pytest.mark.parametrize(
    ("key", "codes"),
    [
        ((NoteCode.BARRIER_NOT_RAISED, "problem"), BarrierProblem),
        ((NoteCode.DOWNSPOUT_LEFT_OUT, "problem"), DownspoutProblem),
        ((NoteCode.INTAKE_NOT_LAID, "problem"), OutletProblem),
        ((NoteCode.WINDOW_AT_CELLS, "beyond"), UnseenWater),
    ],
)
def test_every_chosen_code_has_words(key: tuple[NoteCode, str], codes: type[StrEnum]) -> None:
    assert set(choices()[key]) == set(codes)


def test_every_layer_and_every_end_of_a_pipe_has_words() -> None:
    from screening.inputs.block import LAYERS

    assert set(choices()[NoteCode.NO_LAYER, "layer"]) == {"lots", *LAYERS}
    assert set(PIPE_END_WORDS) | {PipeEndProblem.NONE} == set(PipeEndProblem)


def test_a_note_goes_through_json_and_to_another_process() -> None:
    made = note(NoteKind.CAUTION, "lots", NoteCode.LOTS_CUT, n_lots=np.int64(2), ids="a, b", shared=np.float32(0.5))
    assert made.subject is NoteSubject.LOTS and made.values == (("n_lots", 2), ("ids", "a, b"), ("shared", 0.5))
    assert [type(value) for _, value in made.values] == [int, str, float]
    again = Note.of_row(json.loads(json.dumps(made.as_row())))
    assert again == made == pickle.loads(pickle.dumps(made)) and hash(again) == hash(made)
    assert made.value("n_lots") == 2
    assert merge_notes([made], [again]) == (made,)
    with pytest.raises(TypeError, match="value ids"):
        note(NoteKind.CAUTION, "lots", NoteCode.LOTS_CUT, ids=["a"])
    with pytest.raises(ValueError, match="no such"):
        note(NoteKind.CAUTION, "no such", NoteCode.LOTS_CUT)


def test_the_text_of_a_table_is_told_from_its_code() -> None:
    import pandas as pd

    made = note(NoteKind.MISSING, NoteSubject.ELEVATION, NoteCode.GAPS_HOLD, area_m2=12.6)
    row = dict(zip(("kind", "subject", "code", "values"), made.as_row(), strict=True))
    told = with_sentences("notes", pd.DataFrame([row]), Criteria())
    said = "13 m² of the window have no elevation; water that reaches them is held back by them"
    assert told["text"].tolist() == [said] == [note_words(made)]


@pytest.mark.parametrize(
    ("made", "said"),
    [
        (
            note(
                NoteKind.MISSING,
                NoteSubject.DRAINS,
                NoteCode.PIPE_NOT_OPENED,
                name="culvert C",
                upper=PipeEndProblem.IN_STRUCTURE,
                upper_structures="S-1, S-2",
                lower=PipeEndProblem.NO_ELEVATION,
                lower_structures="",
                snap_m=3.0,
            ),
            "culvert C is not opened: its upper end lies inside structure S-1, S-2, with no open ground within 3 m; "
            "end it outside, its lower end has no elevation within 3 m; move it to where the ground is known",
        ),
        (
            note(
                NoteKind.CAUTION,
                NoteSubject.RUNOFF,
                NoteCode.PEAKS_OUT_OF_RANGE,
                n_time=2,
                n_ratio=0,
                n_number=1,
                n_places=7,
            ),
            "graphical method: time of concentration taken as the nearer of 0.1 and 10 h at 2 of 7 places; "
            "curve number below 40 at 1 of 7 places",
        ),
        (
            note(
                NoteKind.ASSUMED,
                NoteSubject.STORM,
                NoteCode.RAIN_DURATION_ASSUMED,
                duration_h=24.0,
                return_period_yr=float("inf"),
                first_yr=1.0,
                last_yr=100.0,
            ),
            "the stated depth is taken to fall in 24 h: by the table it comes less often than every 100 years",
        ),
        (
            note(
                NoteKind.CAUTION,
                NoteSubject.WINDOW,
                NoteCode.WINDOW_ENDS_AND_CELLS,
                beyond=UnseenWater.UNKNOWN,
                ends="north",
                cells_max=10_000_000,
                stopped="east, south",
            ),
            "The elevation ends to the north and the window reached its limit of 10,000,000 cells to the east, south: "
            "water from beyond may reach a lot, so areas and volumes there are lower bounds",
        ),
        (
            note(NoteKind.CAUTION, NoteSubject.INFLOW, NoteCode.CONTEXT_LOST, area_m2=np.float64(12_345.0)),
            "1.23 ha come in by the coarser elevation where no edge cell leads in: not counted",
        ),
    ],
)
def test_sentences(made: Note, said: str) -> None:
    assert note_words(made) == said
