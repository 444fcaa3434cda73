"""What the values of a land cover layer stand for."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from numpy.typing import NDArray

from screening.errors import InputError
from screening.inputs.vector.geometries import listed
from screening.models import Note, note
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from screening.schema.cover_words import cover_of_text
from screening.schema.covers import CODE_OF, LAWN

SUBJECT = NoteSubject.LAND_COVER
_EXPECTED = (
    "cover words such as lawn, woods, pasture, gravel, paved or water, or classes of the National Land Cover Database"
)


@dataclass(frozen=True)
class CoverReading:
    """How the values of a layer were read.

    Parameters
    ----------
    covers
        Cover by value as text; `lawn` = open space in the condition of the criteria.
    unknown
        Values that are no cover: ground there is taken as a lawn.
    """

    covers: dict[str, str]
    unknown: tuple[str, ...]


def read_classes(path: Path) -> dict[int, str]:
    """Read a table `class,cover` that gives the classes of a raster their covers.

    Raises
    ------
    InputError
        It is not there, has not these columns, or holds a word that is no cover.
    """
    if not path.is_file():
        raise InputError("The table of land cover classes is not there", got=str(path), mend="correct the path")
    classes = {}
    with path.open(newline="", encoding="utf-8-sig", errors="replace") as file:
        for row in csv.DictReader(file):
            number, words = (row.get("class") or "").strip(), (row.get("cover") or "").strip()
            cover = cover_of_text(words)
            if not number.lstrip("-").isdigit() or cover is None:
                raise InputError(
                    f"A row of the table of land cover classes {path.name} cannot be read",
                    got=", ".join(str(part) for part in row.values()),
                    expected="columns class (a whole number) and cover, such as 7,woods or 3,pasture fair",
                    mend="correct the row; covers are " + listed([LAWN, *CODE_OF]),
                )
            classes[int(number)] = cover
    if not classes:
        raise InputError(
            f"The table of land cover classes {path.name} is empty",
            expected="columns class and cover",
            mend="write a row for each class of the raster",
        )
    return classes


def reading_of(values: NDArray[Any], table: dict[int, str]) -> CoverReading:
    """Read classes by a table of covers."""
    numbers = [int(value) for value in values.tolist()]
    known = {str(number): table[number] for number in numbers if number in table}
    return CoverReading(known, tuple(str(number) for number in numbers if number not in table))


def code_of(cover: str | None) -> int:
    """Position of a cover in `covers.COVERS` + 1; 0 for lawn, and where nothing is said."""
    return 0 if cover is None or cover == LAWN else CODE_OF[cover]


def unknown_notes(reading: CoverReading) -> list[Note]:
    """Note the values that are no cover."""
    if not reading.unknown:
        return []
    given = listed(value or "empty" for value in reading.unknown)
    return [note(NoteKind.ASSUMED, SUBJECT, NoteCode.COVER_UNKNOWN, given=given)]


def no_cover(title: str, got: str, option: str) -> InputError:
    """Refuse a layer of which no value is a cover."""
    return InputError(
        f"No value of the {title} is a cover",
        got=got,
        expected=_EXPECTED,
        mend=f"give the right column or table with {option}",
    )
