"""The brief as a tagged PDF, laid out by fpdf2 alone with fonts that travel inside."""

from __future__ import annotations

import datetime
import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from screening.report.brief.content import METHOD, Brief
from screening.report.brief.page import PAPER
from screening.report.brief.pdf_text import break_lines, shown
from screening.report.brief.picture import BOLD, REGULAR, rgb
from screening.report.cautions import TAGLINE
from screening.schema.styles import LegendKey

_CREATED = datetime.datetime(2000, 1, 1, tzinfo=datetime.UTC)
"""Fixed, so that the same findings make the same file to the byte."""
_FONT = "DejaVuSans"
_MARGIN_MM = 14.0
_TOP_MM = 12.0
_INK, _GREY, _BROWN = (26, 26, 26), (77, 77, 77), (122, 62, 12)
_BODY_PT, _SMALL_PT = 8.0, 6.8
_LEADING = 1.25
_MM_PER_PT = 25.4 / 72.0
_PICTURE_HEIGHT_MM = 92.0
_MAX_PAGES = 2
_SCALES = (1.0, 0.93, 0.87)
"""Sizes of the text and the picture, tried until the brief fits its pages."""


def brief_pdf(brief: Brief) -> bytes:
    """Lay the brief out as PDF, the same to the byte for the same brief.

    References
    ----------
    ISO 32000-1:2008, 14.7 and 14.8 (logical structure and tagged PDF).
    """
    for scale in _SCALES:
        sheet = _filled(brief, scale)
        if sheet.n_pages <= _MAX_PAGES:
            break
        sheet.close()
    made = sheet.output()
    sheet.close()
    return made


def _filled(brief: Brief, scale: float) -> _Sheet:
    sheet = _Sheet(brief, scale)
    sheet.head(brief)
    sheet.numbers(brief)
    sheet.picture(brief)
    sheet.section("What we found", brief.found)
    sheet.section("Candidate measures", brief.measures, hint="Worth looking at on site; none is a design.")
    sheet.heading("To check on site")
    for name, lines in brief.on_site:
        sheet.section(name, lines, level=3, mark="\u2610")
    sheet.heading("Cautions")
    if brief.site_cautions:
        sheet.section("Set off by this lot", brief.site_cautions, level=3)
        sheet.heading("Always", level=3)
    sheet.items(brief.cautions, size_pt=_SMALL_PT)
    sheet.heading("Method, data and accuracy")
    sheet.items(METHOD, size_pt=_SMALL_PT)
    for name, value in brief.inputs:
        sheet.row(name, value)
    sheet.items(brief.notes, size_pt=_SMALL_PT)
    return sheet


class _Sheet:
    """Sheets of a brief, filled from the top; every part is tagged for readers that do not see it."""

    def __init__(self, brief: Brief, scale: float) -> None:
        from fpdf import FPDF

        self._scale = scale
        self._pdf: Any = FPDF(format=PAPER[brief.units], unit="mm")
        pdf = self._pdf
        pdf.set_creation_date(_CREATED)
        pdf.set_title(f"Brief of lot {shown(brief.lot_id)}")
        pdf.set_subject(TAGLINE)
        pdf.set_creator("screening")
        pdf.set_lang("en")
        pdf.set_display_mode("fullwidth")
        pdf.viewer_preferences = _show_title()
        pdf.add_font(_FONT, "", str(REGULAR))
        pdf.add_font(_FONT, "B", str(BOLD))
        pdf.c_margin = 0.0
        pdf.set_margins(_MARGIN_MM, _TOP_MM, _MARGIN_MM)
        pdf.set_auto_page_break(False)
        self._wide = pdf.w - 2 * _MARGIN_MM
        self._low = pdf.h - _TOP_MM - 4.0
        self._new_page()

    @property
    def n_pages(self) -> int:
        """Pages so far."""
        return int(self._pdf.page_no())

    def _new_page(self) -> None:
        pdf = self._pdf
        pdf.add_page()
        with pdf.local_context():
            pdf.set_font(_FONT, "", _SMALL_PT)
            pdf.set_text_color(*_GREY)
            pdf.text(_MARGIN_MM, pdf.h - 8.0, f"{TAGLINE}. Remote data, to be confirmed on site. Page {pdf.page_no()}")
        pdf.set_xy(_MARGIN_MM, _TOP_MM)

    def _make_room(self, height_mm: float) -> None:
        if self._pdf.y + height_mm > self._low:
            self._new_page()

    @contextmanager
    def _tagged(self, kind: str, alt_text: str | None = None) -> Iterator[None]:
        # fpdf2 tags pictures only; its structure tree takes any element.
        pdf = self._pdf
        mcid = pdf.struct_builder.next_mcid_for_page(pdf.page)
        pdf._add_marked_content(struct_type=f"/{kind}", mcid=mcid, alt_text=alt_text)
        pdf._out(f"/{kind} <</MCID {mcid}>> BDC")
        yield
        pdf._out("EMC")

    def _text(
        self,
        text: str,
        *,
        kind: str = "P",
        size_pt: float = _BODY_PT,
        bold: bool = False,
        color: tuple[int, int, int] = _INK,
        left_mm: float = 0.0,
        wide_mm: float | None = None,
        moves: bool = True,
    ) -> float:
        """Write a paragraph at a place on the line and give its height."""
        pdf, top, size_pt = self._pdf, self._pdf.y, size_pt * self._scale
        pdf.set_font(_FONT, "B" if bold else "", size_pt)
        pdf.set_text_color(*color)
        wide = self._wide - left_mm if wide_mm is None else wide_mm
        line_mm = size_pt * _MM_PER_PT * _LEADING
        pdf.set_x(_MARGIN_MM + left_mm)
        lines = break_lines(shown(text), wide, pdf.get_string_width)
        height = line_mm * len(lines)
        if moves:
            self._make_room(height)
            top = pdf.y
        pdf.set_y(top)
        with self._tagged(kind):
            for line in lines:
                pdf.set_x(_MARGIN_MM + left_mm)
                pdf.cell(w=wide, h=line_mm, text=line, align="L", new_x="LMARGIN", new_y="NEXT")
        if not moves:
            pdf.set_y(top)
        return height

    def head(self, brief: Brief) -> None:
        """Write the title, what was found in one line, and who hands it over."""
        above = f"{TAGLINE} · {brief.title}" if brief.title else TAGLINE
        self._text(above, color=_GREY)
        self._text(f"Water on lot {brief.lot_id}", kind="H1", size_pt=15.0, bold=True)
        self._text(f"{brief.lead}.", size_pt=10.5)
        self._text(
            f"Rain: {brief.rain}. Handed over by ____________________ to ____________________ on ____________",
            color=_GREY,
            size_pt=7.4,
        )
        self._pdf.ln(1.5)

    def numbers(self, brief: Brief) -> None:
        """Write the numbers side by side."""
        pdf, gap, top = self._pdf, 3.0, self._pdf.y
        wide = (self._wide - gap * (len(brief.numbers) - 1)) / len(brief.numbers)
        tallest = 0.0
        for place, number in enumerate(brief.numbers):
            left = place * (wide + gap) + 2.0
            pdf.set_y(top + 2.2)
            for text, size_pt, bold, color in (
                (number.value, 14.0, True, _INK),
                (number.label, _BODY_PT, False, _INK),
                (number.note, _SMALL_PT, False, _GREY),
            ):
                if text:
                    height = self._text(
                        text, size_pt=size_pt, bold=bold, color=color, left_mm=left, wide_mm=wide - 4.0, moves=False
                    )
                    pdf.set_y(pdf.y + height)
            tallest = max(tallest, pdf.y - top)
        pdf.set_draw_color(119, 119, 119)
        pdf.set_line_width(0.2)
        for place in range(len(brief.numbers)):
            left = _MARGIN_MM + place * (wide + gap)
            pdf.rect(left, top, wide, tallest + 1.2)
            pdf.set_fill_color(*_BROWN)
            pdf.rect(left, top, wide, 1.2, style="F")
        pdf.set_y(top + tallest + 3.2)

    def picture(self, brief: Brief) -> None:
        """Place the picture as wide as the sheet, or as high as it may be, and its legend under it."""
        pdf, shot = self._pdf, brief.picture
        wide = min(self._wide, _PICTURE_HEIGHT_MM * self._scale * shot.width_px / shot.height_px)
        high = wide * shot.height_px / shot.width_px
        self._make_room(high + 8.0)
        left = _MARGIN_MM + (self._wide - wide) / 2
        with self._tagged("Figure", shown(shot.alt)):
            pdf.image(io.BytesIO(shot.jpeg), x=left, y=pdf.y, w=wide, h=high)
            pdf.set_draw_color(119, 119, 119)
            pdf.rect(left, pdf.y, wide, high)
        pdf.set_xy(_MARGIN_MM, pdf.y + high + 1.5)
        self._legend(brief)

    def _legend(self, brief: Brief) -> None:
        pdf, x, high = self._pdf, _MARGIN_MM, 4.2
        for key in brief.picture.legend:
            pdf.set_font(_FONT, "", _SMALL_PT)
            wide = 9.0 + pdf.get_string_width(key.text) + 3.0
            if x + wide > _MARGIN_MM + self._wide:
                x, pdf.y = _MARGIN_MM, pdf.y + high
            _draw_swatch(pdf, key, x, pdf.y)
            y = pdf.y
            self._text(key.text, size_pt=_SMALL_PT, left_mm=x - _MARGIN_MM + 7.5, wide_mm=wide, moves=False)
            pdf.y, x = y, x + wide
        pdf.set_xy(_MARGIN_MM, pdf.y + high + 0.5)

    def heading(self, text: str, *, level: int = 2) -> None:
        """Write a heading that does not stand alone at the foot of a sheet."""
        pdf = self._pdf
        self._make_room(14.0 if level == 2 else 9.0)
        pdf.ln(1.6 if level == 2 else 0.8)
        self._text(text, kind=f"H{level}", size_pt=10.0 if level == 2 else _BODY_PT, bold=True)
        if level == 2:
            pdf.set_draw_color(*_INK)
            pdf.set_line_width(0.4)
            pdf.line(_MARGIN_MM, pdf.y, _MARGIN_MM + self._wide, pdf.y)
            pdf.ln(0.8)

    def section(self, text: str, lines: tuple[str, ...], *, level: int = 2, mark: str = "•", hint: str = "") -> None:
        """Write a heading with its lines."""
        self.heading(text, level=level)
        if hint:
            self._text(hint, color=_GREY, size_pt=7.4)
        self.items(lines, mark=mark)

    def items(self, lines: tuple[str, ...], *, size_pt: float = _BODY_PT, mark: str = "•") -> None:
        """Write lines with a mark before each."""
        for line in lines:
            self._text(f"{mark} {line}", size_pt=size_pt, left_mm=1.0)
            self._pdf.ln(0.3)

    def row(self, name: str, value: str) -> None:
        """Write a name and its value."""
        self._text(f"{name}: {value}", size_pt=_SMALL_PT, left_mm=1.0)
        self._pdf.ln(0.3)

    def output(self) -> bytes:
        """Give the file."""
        return bytes(self._pdf.output())

    def close(self) -> None:
        """Close the files of the fonts, which fpdf2 leaves open."""
        for font in self._pdf.fonts.values():
            font.ttfont.close()


def _draw_swatch(pdf: Any, key: LegendKey, x: float, y: float) -> None:
    style = key.style
    pdf.set_draw_color(*rgb(style.color))
    pdf.set_line_width(min(style.weight, 4.0) * 0.15)
    if style.shape == "line":
        pdf.line(x, y + 1.6, x + 6.5, y + 1.6)
        return
    if style.fill != "none":
        pdf.set_fill_color(*rgb(style.fill))
    pdf.rect(x + 0.3, y + 0.3, 6.0, 2.8, style="DF" if style.fill != "none" else "D")
    if style.pattern:
        for start in (1.2, 3.0, 4.8):
            pdf.line(x + start, y + 3.1, x + start + 1.2, y + 0.3)


def _show_title() -> Any:
    from fpdf.prefs import ViewerPreferences

    return ViewerPreferences(display_doc_title=True)
