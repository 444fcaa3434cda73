"""Pages as templates, read once."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Template

ASSETS = Path(__file__).parent / "assets"


@cache
def page_template(name: str) -> Template:
    """Give a page of `assets`, in which every text put in is escaped."""
    from jinja2 import Environment, FileSystemLoader

    pages = Environment(loader=FileSystemLoader(ASSETS), autoescape=True, trim_blocks=True, lstrip_blocks=True)
    return pages.get_template(name)
