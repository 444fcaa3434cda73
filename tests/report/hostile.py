"""Marks that no output may show raw, and what a page runs by itself."""

from __future__ import annotations

from html.parser import HTMLParser

BAD_MARKS = [chr(code) for code in (*range(9), 11, 12, *range(14, 32), 0x202E, 0x2066, 0x2028)]


class Elements(HTMLParser):
    """Elements of a page with their attributes."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))
