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


def test_the_table_shows_the_lots_in_the_order_of_the_visit(tiny_result: BlockResult) -> None:
    from screening.report.map.notebook import lots_html

    table = lots_html(tiny_result, units="us", max_rows=1)
    assert '<td dir="auto">A-1</td>' in table and ">A-2<" not in table
    assert "Run-on (cu ft)" in table
    assert "and 1 more in <code>.summary</code>" in table


def test_hostile_text_is_inert_in_the_table(hostile_result: BlockResult) -> None:
    from screening.report.map.notebook import lots_html
    from tests.report.hostile import BAD_MARKS, Elements

    table = lots_html(hostile_result)
    assert {tag for tag, _ in Elements(table).found} == {"table", "thead", "tbody", "tr", "th", "td"}
    assert not any(mark in table for mark in BAD_MARKS)


def test_a_notebook_cell_shows_map_and_table_and_gives_a_geodataframe(tiny_result: BlockResult) -> None:
    import geopandas as gpd

    from screening.site.screen import Screening

    cell: dict[str, object] = {"Screening": Screening, "found": tiny_result}
    exec("screening = Screening(result=found, title='Two lots')\nshown = screening._repr_html_()\n", cell)
    shown = str(cell["shown"])
    assert shown.startswith("<iframe") and "</iframe><table>" in shown
    screening = cell["screening"]
    assert isinstance(screening, Screening)
    assert isinstance(screening.summary, gpd.GeoDataFrame)
    assert screening.summary.crs.to_epsg() == 26917
