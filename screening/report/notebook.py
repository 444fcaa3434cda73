"""A map page inside a notebook cell."""

from __future__ import annotations

from html import escape


def map_iframe(html: str, height_px: int = 560) -> str:
    """Wrap a map page in an iframe that shows in a notebook, may save files and print, and can reach nothing else.

    Parameters
    ----------
    html
        A page from `build_map`.
    height_px
        Height of the frame [px].

    Returns
    -------
    HTML text; give it to `IPython.display.HTML`.

    Examples
    --------
    >>> map_iframe("<p>hi</p>", 100).count("&lt;p&gt;")
    1
    """
    return (
        '<iframe title="Screening map" sandbox="allow-scripts allow-downloads allow-modals" '
        f'srcdoc="{escape(html, quote=True)}" '
        f'style="width:100%;height:{int(height_px)}px;border:1px solid #666"></iframe>'
    )
