"""Pages as templates, and the scripts that `screening/web` is built into, read once."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Template

ASSETS = Path(__file__).parent / "assets"
DIST = Path(__file__).parent / "dist"


@cache
def page_template(name: str) -> Template:
    """Give a page of `assets`, in which every text put in is escaped."""
    from jinja2 import Environment, FileSystemLoader

    pages = Environment(loader=FileSystemLoader(ASSETS), autoescape=True, trim_blocks=True, lstrip_blocks=True)
    return pages.get_template(name)


@cache
def bundle_text(name: str) -> str:
    """Give the script of a page kind: `map`, `lots` or `improvements`; see "The pages' code" in DEVELOPERS.md."""
    return (DIST / f"{name}.js").read_text(encoding="utf-8")
