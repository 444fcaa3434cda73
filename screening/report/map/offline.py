"""A folium figure that renders to one file with no address in it; imported only when a map is built.

folium links to scripts and styles on the network. Here each link of the header, known by its name, is
replaced by the text kept in `assets`, dropped where the page does without it, or refused.
"""

from __future__ import annotations

import base64
import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import folium
from branca.element import CssLink, Element, Figure, JavascriptLink
from folium.elements import JSCSSMixin
from folium.template import Template

from screening.errors import OutputError
from screening.report.templates import ASSETS, bundle_text, page_template

_KEPT = {
    "leaflet": "leaflet/leaflet.js",
    "leaflet_css": "leaflet/leaflet.css",
    "leaflet_geoman": "geoman/leaflet-geoman.min.js",
    "screening_page_css": "page/page.css",
    "screening_filter_css": "page/filter.css",
    "screening_draw_css": "draw.css",
}
_DROPPED = frozenset(
    {
        "jquery",
        "bootstrap",
        "awesome_markers",
        "bootstrap_css",
        "glyphicons_css",
        "awesome_markers_font_css",
        "awesome_markers_css",
        "awesome_rotate_css",
    }
)
_CSP = (
    "default-src 'none'; connect-src 'none'; img-src {images}; style-src 'unsafe-inline'; "
    "script-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
)


def json_for_script(value: Any) -> str:
    """Write JSON that stays inert inside a script element, whatever text it holds; texts of both units are told."""
    text = json.dumps(
        value, ensure_ascii=False, allow_nan=False, separators=(",", ":"), default=lambda text: text.as_data()
    )
    for mark in "<>&\u2028\u2029":
        text = text.replace(mark, f"\\u{ord(mark):04x}")
    return text


@cache
def asset_text(path: str) -> str:
    """Read a kept script, its licence before it, or style; images that a style names become data addresses."""
    text = (ASSETS / path).read_text(encoding="utf-8")
    text = re.sub(r"\n?//# sourceMappingURL=\S*", "", text)
    if path.endswith(".js"):
        licence = (ASSETS / path).with_name("LICENSE").read_text(encoding="utf-8").strip()
        text = f"/*!\n{licence}\n*/\n{text}"
    if path.endswith(".css"):
        text = re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL)
        folder = (ASSETS / path).parent
        text = re.sub(r"url\((images/[\w.-]+\.png)\)", lambda found: _data_url(folder / found[1]), text)
    if re.search(r"</(script|style)", text, flags=re.IGNORECASE):
        raise OutputError("A page asset would close its own element", got=path)
    return text


def _data_url(path: Path) -> str:
    return f"url(data:image/png;base64,{base64.b64encode(path.read_bytes()).decode('ascii')})"


class PageScript(JSCSSMixin):
    """Hands the folium map to the page's own script, which draws the layers from the page's data."""

    _template = Template(
        "{% macro script(this, kwargs) %}screeningPages.showMap({{ this._parent.get_name() }});{% endmacro %}"
    )
    default_css = [  # noqa: RUF012  (folium's own form)
        ("screening_page_css", "page.css"),
        ("screening_filter_css", "filter.css"),
    ]


class OfflineFigure(Figure):
    """A figure whose page holds all that it needs.

    Parameters
    ----------
    title
        Of the page, plain text.
    body
        Fields of `assets/page.html`; text is escaped there.
    image_hosts
        Hosts from which an online base map may load images; empty = nothing may load.
    """

    def __init__(self, title: str, body: dict[str, Any], image_hosts: tuple[str, ...] = ()) -> None:
        super().__init__(title=title)
        self._body = body
        self._csp = _CSP.format(images=" ".join(("data:", "blob:", *image_hosts)))

    def render(self, **kwargs: Any) -> str:
        """Give the page as one text.

        Raises
        ------
        OutputError
            A header link has no kept text.
        """
        _renumber(self)
        for child in list(self._children.values()):
            child.render(**kwargs)
        from markupsafe import Markup

        return page_template("page.html").render(
            **self._body,
            title=self.title,
            csp=self._csp,
            head=Markup("\n".join(_inline(name, child) for name, child in self.header._children.items())),
            map_html=Markup(self.html.render()),
            page_script=Markup(bundle_text("map")),
            map_script=Markup(self.script.render()),
        )


def _renumber(element: Element, count: int = 0) -> int:
    # Ids are random in folium; numbers in order of appearance make two builds the same to the byte.
    count += 1
    element._id = str(count)
    for child in element._children.values():
        count = _renumber(child, count)
    return count


def _inline(name: str, child: Element) -> str:
    if isinstance(child, JavascriptLink | CssLink):
        if name in _DROPPED:
            return ""
        if name not in _KEPT:
            raise OutputError(
                "The map asks for a script or style that is not kept with the toolkit",
                got=name,
                expected=", ".join(sorted(_KEPT)),
                mend="keep its text under report/assets, or do without it",
            )
        tag = "style" if isinstance(child, CssLink) else "script"
        return f"<{tag}>{asset_text(_KEPT[name])}</{tag}>"
    # folium's own viewport tag forbids zooming with two fingers, and the page states its charset itself.
    return re.sub(r"<meta[^>]*>", "", child.render())


def new_map(figure: OfflineFigure, *, center: tuple[float, float]) -> folium.Map:
    """Make a folium map without tiles inside an offline figure.

    Parameters
    ----------
    figure
        The page.
    center
        Latitude, longitude [deg].
    """
    view = folium.Map(
        location=list(center),
        tiles=None,
        zoom_start=18,
        max_zoom=23,
        attribution_control=False,
        zoom_snap=0.25,
        zoom_delta=0.5,
        wheel_px_per_zoom_level=120,
    )
    figure.add_child(view)
    view.add_child(PageScript())  # type: ignore[no-untyped-call]
    return view


__all__ = ["OfflineFigure", "PageScript", "asset_text", "json_for_script", "new_map"]
