from __future__ import annotations

import pytest

from screening.errors import InputError
from screening.inputs.raster.vertical import choose_vertical_unit, unit_word
from screening.report.words.notes import note_words


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("m", "m"),
        ("Metre", "m"),
        ("meters", "m"),
        ("ft", "ft"),
        ("foot", "ft"),
        ("US survey foot", "us-ft"),
        ("Foot_US", "us-ft"),
        ("ftUS", "us-ft"),
        ("US_Survey_Feet", "us-ft"),
        ("cm", "cm"),
        ("fathom", ""),
        ("", ""),
    ],
)
def test_unit_words(text: str, word: str) -> None:
    assert unit_word(text) == (word or None)


def test_option_wins_over_the_file_with_a_caution() -> None:
    unit, notes = choose_vertical_unit(option="m", band_tag="foot", crs_unit="", subject="it")
    assert unit == "m"
    assert [note.kind for note in notes] == ["caution"]
    assert "'foot'" in note_words(notes[0])


def test_option_that_agrees_needs_no_note_and_one_without_the_file_is_noted() -> None:
    assert choose_vertical_unit(option="ft", band_tag="feet", crs_unit="", subject="it") == ("ft", ())
    assert choose_vertical_unit(option="ft", band_tag="", crs_unit="", subject="it")[1][0].kind == "assumed"


@pytest.mark.parametrize("said", [("", ""), ("fathom", "")])
def test_unknown_unit_is_refused_naming_the_option(said: tuple[str, str]) -> None:
    with pytest.raises(InputError, match=r"--vertical-unit m\|ft\|us-ft"):
        choose_vertical_unit(option=None, band_tag=said[0], crs_unit=said[1], subject="it")


def test_two_units_in_one_file_are_refused() -> None:
    with pytest.raises(InputError, match="two vertical units"):
        choose_vertical_unit(option=None, band_tag="m", crs_unit="US survey foot", subject="it")


def test_option_that_is_no_unit_is_refused() -> None:
    with pytest.raises(InputError, match="us-ft"):
        choose_vertical_unit(option="yard", band_tag="m", crs_unit="", subject="it")
