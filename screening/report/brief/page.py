"""The brief as one page of HTML that prints on two sheets: no script, nothing from the network."""

from __future__ import annotations

import base64

from screening.report.brief.content import METHOD, Brief
from screening.report.cautions import TAGLINE
from screening.report.templates import ASSETS, page_template
from screening.units import UnitSystem

PAPER: dict[UnitSystem, str] = {"metric": "A4", "us": "letter"}
"""Size of the sheet, by the units of the reader."""


def brief_page(brief: Brief) -> str:
    """Lay the brief out as HTML, the same to the byte for the same brief."""
    from markupsafe import Markup

    picture = base64.b64encode(brief.picture.jpeg).decode("ascii")
    return page_template("brief.html").render(
        brief=brief,
        css=Markup((ASSETS / "brief.css").read_text(encoding="utf-8")),
        paper=PAPER[brief.units],
        picture_url=f"data:image/jpeg;base64,{picture}",
        tagline=TAGLINE,
        method=METHOD,
    )
