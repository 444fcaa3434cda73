"""The vertical unit of a raster: what the file says, what the user says, and never a guess."""

from __future__ import annotations

import re

from screening.errors import InputError
from screening.models import Note, note
from screening.schema.codes.inputs import VerticalUnit
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from screening.units import VERTICAL_UNITS_M

_WORDS: dict[str, VerticalUnit] = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), VerticalUnit.M),
    **dict.fromkeys(("ft", "foot", "feet", "international foot", "international feet"), VerticalUnit.FT),
    **dict.fromkeys(
        (
            "us ft",
            "ftus",
            "us survey foot",
            "us survey feet",
            "foot us",
            "survey foot",
            "us foot",
            "us feet",
            "foot us survey",
            "survey feet",
        ),
        VerticalUnit.US_FT,
    ),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), VerticalUnit.CM),
}


def unit_word(text: str) -> VerticalUnit | None:
    """Give the unit for what a file calls it; None if it is unknown.

    Examples
    --------
    >>> str(unit_word("US survey foot"))
    'us-ft'
    """
    plain = re.sub(r"[^a-z]+", " ", text.replace(".", "").lower()).strip()
    return _WORDS.get(plain)


def choose_vertical_unit(
    *, option: str | None, band_tag: str, crs_unit: str, subject: str, option_name: str = "--vertical-unit"
) -> tuple[VerticalUnit, tuple[Note, ...]]:
    """Decide the vertical unit from the option, the band's unit tag and the vertical axis of the CRS.

    Parameters
    ----------
    option
        What the user states, or None; it wins.
    band_tag
        Unit tag of the band, or empty.
    crs_unit
        Unit of the vertical axis of the CRS, or empty.
    subject, option_name
        What the raster and the option are called in messages.

    Returns
    -------
    The unit, and notes.

    Raises
    ------
    InputError
        The option is not a unit, the file does not say, or its two statements disagree.
    """
    mend = f"state it with {option_name} m|ft|us-ft|cm, as the raster's own metadata gives it"
    stated = {
        where: text
        for where, text in (("band unit tag", band_tag), ("vertical axis of the CRS", crs_unit))
        if text.strip()
    }
    said = ", ".join(f"{where} {text!r}" for where, text in stated.items())
    words = {unit for text in stated.values() if (unit := unit_word(text)) is not None}
    if option is not None:
        if option not in VERTICAL_UNITS_M:
            raise InputError(
                "The vertical unit is not one that is known",
                got=repr(option),
                expected=", ".join(VERTICAL_UNITS_M),
                mend="use one of these words",
            )
        asked = VerticalUnit(option)
        if words - {asked}:
            disputed = note(NoteKind.CAUTION, NoteSubject.ELEVATION, NoteCode.UNIT_DISPUTED, said=said, unit=asked)
            return asked, (disputed,)
        if words:
            return asked, ()
        return asked, (note(NoteKind.ASSUMED, NoteSubject.ELEVATION, NoteCode.UNIT_STATED, unit=asked),)
    if len(words) > 1:
        raise InputError(f"{subject} gives two vertical units", got=said, expected="one", mend=mend)
    if not words:
        raise InputError(
            f"The vertical unit of {subject} is not known",
            got=said or "no band unit tag, no vertical CRS",
            expected="metres or feet, stated in the file",
            mend=mend,
        )
    return words.pop(), ()
