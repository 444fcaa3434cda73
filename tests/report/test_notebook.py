from __future__ import annotations

from html.parser import HTMLParser

from screening.models import BlockResult
from screening.report import build_map, map_iframe


def test_the_page_is_whole_inside_the_frame(tiny_result: BlockResult) -> None:
    page = build_map(tiny_result)
    found: list[dict[str, str | None]] = []

    class Frames(HTMLParser):
        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            found.append({"tag": tag, **dict(attrs)})

    Frames().feed(map_iframe(page, height_px=400))
    (frame,) = found
    assert frame["tag"] == "iframe"
    assert frame["srcdoc"] == page
    assert frame["sandbox"] == "allow-scripts allow-downloads allow-modals"
    assert frame["title"]
    assert "height:400px" in str(frame["style"])
