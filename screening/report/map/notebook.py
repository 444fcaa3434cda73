"""A map page and the table of lots inside a notebook cell."""

from __future__ import annotations

from html import escape

from screening.models import BlockResult
from screening.plain_text import clean
from screening.report.findings import format_cell, label_with_unit
from screening.report.words import lots_told
from screening.schema.columns import SUMMARY_COLUMNS
from screening.units import UnitSystem

_FIELDS = (
    "visit_rank",
    "lot_id",
    "main_finding",
    "n_flags",
    "n_not_assessed",
    "exposure",
    "run_on_m3",
    "low_spot_depth_max_m",
    "infiltration_status",
)
_MAX_ROWS = 30
_MAX_CELL_CHARS = 160


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


def lots_html(result: BlockResult, *, units: UnitSystem = "metric", max_rows: int = _MAX_ROWS) -> str:
    """Lay the lots out as a plain table for a notebook, those to visit first, every text escaped.

    Parameters
    ----------
    result
        What was found.
    units
        What readers see.
    max_rows
        Lots shown; the rest is counted.
    """
    columns = [next(column for column in SUMMARY_COLUMNS if column.name == name) for name in _FIELDS]
    lots = lots_told(result, units).sort_values("visit_rank", kind="stable")
    heads = "".join(
        f'<th scope="col" title="{escape(column.meaning)}">{escape(label_with_unit(column, units))}</th>'
        for column in columns
    )
    body = "".join(
        "<tr>"
        + "".join(
            f'<td dir="auto">{escape(clean(format_cell(row[c.name], c, units), _MAX_CELL_CHARS))}</td>' for c in columns
        )
        + "</tr>"
        for row in lots.head(max_rows).to_dict("records")
    )
    more = f"<p>and {len(lots) - max_rows} more in <code>.summary</code></p>" if len(lots) > max_rows else ""
    return f"<table><thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table>{more}"
