from __future__ import annotations

import dataclasses
import io
import logging
import re
import zlib

import pytest
from fpdf import FPDF
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.errors import InputError
from screening.models import BlockResult
from screening.plain_text import clean
from screening.report.brief.content import Brief, make_briefs
from screening.report.brief.files import brief_lots, brief_writers
from screening.report.brief.page import brief_page
from screening.report.brief.pdf import brief_pdf
from screening.report.brief.pdf_text import break_lines
from screening.report.brief.visit_lines import LINE_CHARS
from screening.report.cautions import CAUTIONS, TAGLINE
from screening.schema.codes.outfall import RouteReason
from tests.report.hostile import BAD_MARKS, Elements


def brief_of(result: BlockResult, lot_id: str = "A-1", **options: object) -> Brief:
    return make_briefs(result, [lot_id], **options)[0]  # type: ignore[arg-type]


def texts_of(brief: Brief) -> list[str]:
    numbers = [text for number in brief.numbers for text in (number.value, number.label, number.note)]
    on_site = [line for _, lines in brief.on_site for line in lines]
    inputs = [text for pair in brief.inputs for text in pair]
    return [
        brief.lot_id,
        brief.title,
        brief.lead,
        brief.rain,
        *numbers,
        *brief.found,
        *brief.measures,
        *on_site,
        *brief.site_cautions,
        *inputs,
        *brief.notes,
        brief.picture.alt,
    ]


def test_it_says_what_was_found_and_what_matters(tiny_result: BlockResult) -> None:
    brief = brief_of(tiny_result, title="Two lots")
    assert (brief.lot_id, brief.title, brief.rain) == ("A-1", "Two lots", "10yr-24h, 108 mm")
    assert len(brief.numbers) == 3
    assert brief.numbers[0].value == "-3.2 m³"
    assert any(line.startswith("House S-1") for line in brief.found)
    assert brief.site_cautions[0].startswith("Storage ST-1: Slope of the ground: 25.0% (threshold 20.0%)")
    assert brief.cautions == CAUTIONS
    assert [name for name, _ in brief.on_site][-1] == "Also"
    labels = [name for name, _ in brief.inputs]
    assert {"Rain", "Elevation grid", "Accuracy of heights", "Confidence", "Thresholds", "Dates of the data"} <= set(
        labels
    )
    assert "RMSE 0.10 m" in dict(brief.inputs)["Accuracy of heights"]


def test_a_lot_without_flags_says_so_and_unknown_is_no_pass(tiny_result: BlockResult) -> None:
    brief = brief_of(tiny_result, "A-2")
    assert brief.found[0] == "Nothing was flagged on this lot."
    assert "1 check" in brief.found[-1] and "never a pass" in brief.found[-1]
    assert brief.numbers[2].value == "not assessed"


def test_files_are_named_and_given_dates_are_shown(tiny_result: BlockResult) -> None:
    provenance = {"files": {"elevation": "ground.tif"}, "dates": {"elevation": "2021-03"}}
    rows = dict(brief_of(tiny_result, provenance=provenance).inputs)
    assert rows["Files"] == "elevation: ground.tif"
    assert rows["dates: elevation"] == "2021-03"
    assert "Dates of the data" not in rows


def test_units_of_the_reader(tiny_result: BlockResult) -> None:
    text = " ".join(texts_of(brief_of(tiny_result, units="us")))
    assert "4.26 in" in text and "sq ft" in text
    assert not re.search(r"\d (m²|m³|mm)\b", text)


def test_the_storage_is_not_praised_for_water_that_does_not_reach_it(tiny_result: BlockResult) -> None:
    routes = tiny_result.capture.routes.assign(reach="not reachable", reason=RouteReason.UPHILL)
    cut = dataclasses.replace(tiny_result, capture=dataclasses.replace(tiny_result.capture, routes=routes))
    assert "no pipe leads from there to that storage by gravity (the zone lies uphill)" in brief_of(cut).measures[-1]
    assert "no pipe" not in brief_of(tiny_result).measures[-1]


def test_the_page_is_whole_and_prints(tiny_result: BlockResult) -> None:
    page = brief_page(brief_of(tiny_result))
    elements = Elements(page).found
    assert not {tag for tag, _ in elements} & {"script", "link", "iframe", "object", "form"}
    (picture,) = [attributes for tag, attributes in elements if tag == "img"]
    assert str(picture["src"]).startswith("data:image/jpeg;base64,") and picture["alt"]
    assert [tag for tag, _ in elements].count("h1") == 1
    assert TAGLINE in page and "@media print" in page and "size: A4" in page
    assert "size: letter" in brief_page(brief_of(tiny_result, units="us"))
    assert all(line.split(";")[0] in page for line in CAUTIONS)


def test_hostile_text_is_inert_on_the_page(hostile_result: BlockResult, hostile_text: str) -> None:
    brief = brief_of(hostile_result, hostile_text, title=hostile_text, provenance={hostile_text: hostile_text})
    for text in texts_of(brief):
        assert len(text) <= max(LINE_CHARS, 700)
        assert not any(mark in text for mark in BAD_MARKS)
    page = brief_page(brief)
    plain = brief_page(brief_of(hostile_result, f"{hostile_text} 2"))
    assert not any(mark in page for mark in BAD_MARKS)
    for tag, attributes in Elements(page).found:
        assert tag not in ("script", "link", "iframe", "object", "base", "form")
        assert not [name for name in attributes if name.startswith("on")]
        assert tag != "img" or str(attributes["src"]).startswith("data:image/jpeg")
    assert page.count("<svg") >= plain.count("<svg")


def streams_of(pdf: bytes) -> bytes:
    found = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL)
    parts = []
    for part in found:
        try:
            parts.append(zlib.decompress(part))
        except zlib.error:
            parts.append(part)
    return b"\n".join(parts)


def test_the_pdf_is_tagged_with_a_picture_in_words(tiny_result: BlockResult) -> None:
    pdf = brief_pdf(brief_of(tiny_result))
    assert pdf.startswith(b"%PDF-") and b"/Marked true" in pdf and b"/Lang" in pdf
    for kind in (b"/S /H1", b"/S /H2", b"/S /P", b"/S /Figure"):
        assert kind in pdf, kind
    assert pdf.count(b"/S /Figure") == 1 and b"/Alt " in pdf
    content = streams_of(pdf)
    assert content.count(b" BDC") == content.count(b"EMC") > 30
    assert 1 <= len(re.findall(rb"/Type /Page\b", pdf)) <= 2
    assert b"/JavaScript" not in pdf and b"/URI" not in pdf


def test_hostile_text_is_inert_in_the_pdf(
    hostile_result: BlockResult, hostile_text: str, caplog: pytest.LogCaptureFixture
) -> None:
    brief = brief_of(hostile_result, hostile_text, title=hostile_text, provenance={hostile_text: hostile_text})
    with caplog.at_level(logging.WARNING):
        pdf = brief_pdf(brief)
    # fpdf2 warns of marks that a font does not have.
    assert not caplog.records
    assert b"/JavaScript" not in pdf and b"/URI" not in pdf and b"/Launch" not in pdf
    assert 1 <= len(re.findall(rb"/Type /Page\b", pdf)) <= 3


def test_two_builds_are_the_same_to_the_byte(tiny_result: BlockResult) -> None:
    one, two = (brief_of(tiny_result, title="Two lots") for _ in range(2))
    assert brief_page(one) == brief_page(two)
    assert brief_pdf(one) == brief_pdf(two)


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        (None, ["A-1"]),
        (("all",), ["A-1", "A-2"]),
        (("none",), []),
        (("A-2", "A-1"), ["A-1", "A-2"]),
        (("A-2",), ["A-2"]),
    ],
)
def test_which_lots_get_a_brief(tiny_result: BlockResult, asked: tuple[str, ...] | None, expected: list[str]) -> None:
    assert brief_lots(tiny_result, asked) == expected


def test_without_flags_the_first_lot_gets_one(tiny_result: BlockResult) -> None:
    calm = dataclasses.replace(tiny_result, summary=tiny_result.summary.assign(n_flags=0))
    assert brief_lots(calm, None) == ["A-1"]


@pytest.mark.parametrize("asked", [("A-3",), ("A-1", "all")])
def test_a_lot_that_is_not_there_is_refused(tiny_result: BlockResult, asked: tuple[str, ...]) -> None:
    with pytest.raises(InputError, match="not screened"):
        brief_lots(tiny_result, asked)


def test_file_names_are_plain_and_each_once(hostile_result: BlockResult) -> None:
    writers = brief_writers(hostile_result, ("all",))
    names = [name for name, _ in writers.values()]
    assert len(names) == len({name.casefold() for name in names}) == 4
    assert all(re.fullmatch(r"brief_[A-Za-z0-9_-]{1,48}\.(html|pdf)", name) for name in names)


def test_clean_text_is_short_and_plain() -> None:
    assert clean("a\u202eb\tc\n d", 20) == "a b c d"
    assert clean("x" * 50, 10) == "x" * 9 + "…"
    assert clean("גינה", 10) == "גינה"


def test_right_to_left_words_are_seen_in_their_order() -> None:
    from screening.report.brief.pdf_text import shown

    # Drawn from left to right, the last letter of the word comes first: Unicode Standard Annex 9.
    assert shown("lot אב ok") == "lot בא ok"
    assert shown("tree \U0001f333") == "tree □"


def test_the_bundled_fonts_are_whole_and_licensed() -> None:
    from PIL import ImageFont

    from screening.report.brief.picture import BOLD, FONTS, REGULAR

    for path in (REGULAR, BOLD):
        assert ImageFont.truetype(io.BytesIO(path.read_bytes()), 12).getlength("m²½Ωаאع☐") > 0
    assert "Bitstream" in (FONTS / "LICENSE").read_text(encoding="utf-8")


@settings(max_examples=60, deadline=None)
@given(
    words=st.lists(st.text("abcWij.-0", min_size=1, max_size=30), min_size=1, max_size=25),
    wide_mm=st.floats(12.0, 180.0),
)
def test_lines_break_where_the_library_breaks_them(words: list[str], wide_mm: float) -> None:
    pdf = FPDF(format="A4", unit="mm")
    pdf.set_font("helvetica", "", 8.0)
    pdf.c_margin = 0.0
    pdf.add_page()
    text = " ".join(words)
    known = pdf.multi_cell(w=wide_mm, h=4.0, text=text, align="L", dry_run=True, output="LINES")
    assert break_lines(text, wide_mm, pdf.get_string_width) == known
