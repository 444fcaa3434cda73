"""Which lots get a brief, and the files of each."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from screening.errors import InputError
from screening.models import BlockResult
from screening.units import UnitSystem

if TYPE_CHECKING:
    from screening.report.brief.content import Brief

ALL, NONE = "all", "none"
_MAX_NAME_CHARS = 40


def brief_lots(result: BlockResult, asked: Sequence[str] | None) -> list[str]:
    """Settle which lots get a brief, in the order in which to visit them.

    Parameters
    ----------
    result
        What was found.
    asked
        Ids of lots, or `all`, or `none`. None = the lot to visit first.

    Raises
    ------
    InputError
        A lot is not there.
    """
    lots = result.summary.sort_values("visit_rank", kind="stable")
    every: list[str] = lots["lot_id"].tolist()
    if asked is None:
        return every[:1]
    unknown = [lot_id for lot_id in asked if lot_id not in every]
    if unknown in ([ALL], [NONE]) and len(asked) == 1:
        return every if unknown == [ALL] else []
    if unknown:
        shown = ", ".join(every[:8]) + (", ..." if len(every) > 8 else "")
        raise InputError(
            "A brief was asked for of a lot that was not screened",
            got=", ".join(unknown),
            expected=f"one of {shown}, or all, or none",
            mend="correct --brief",
        )
    return [lot_id for lot_id in every if lot_id in set(asked)]


def brief_writers(
    result: BlockResult,
    asked: Sequence[str] | None,
    *,
    units: UnitSystem = "metric",
    title: str = "",
    provenance: Mapping[str, Any] | None = None,
) -> dict[str, tuple[str, Callable[[Path], None]]]:
    """Give file name and writer of each brief, HTML and PDF, by `brief_` and the name of the lot.

    Raises
    ------
    InputError
        A brief was asked for of a lot that is not there.
    """
    lot_ids = brief_lots(result, asked)
    made: dict[str, Brief] = {}

    def brief_of(lot_id: str) -> Brief:
        from screening.report.brief.content import make_briefs

        if not made:
            briefs = make_briefs(result, lot_ids, units=units, title=title, provenance=provenance)
            made.update(zip(lot_ids, briefs, strict=True))
        return made[lot_id]

    writers: dict[str, tuple[str, Callable[[Path], None]]] = {}
    for lot_id, name in zip(lot_ids, _file_names(lot_ids), strict=True):
        writers[name] = (f"{name}.html", lambda path, lot_id=lot_id: _write_page(brief_of(lot_id), path))  # type: ignore[misc]
        writers[f"{name}_pdf"] = (f"{name}.pdf", lambda path, lot_id=lot_id: _write_pdf(brief_of(lot_id), path))  # type: ignore[misc]
    return writers


def _file_names(lot_ids: Sequence[str]) -> list[str]:
    """Names that any file system takes, each once, whatever letter case it tells apart."""
    names: list[str] = []
    taken: set[str] = set()
    for lot_id in lot_ids:
        plain = re.sub(r"[^A-Za-z0-9_-]+", "_", lot_id)[:_MAX_NAME_CHARS].strip("_") or "lot"
        name, number = f"brief_{plain}", 2
        while name.casefold() in taken:
            name, number = f"brief_{plain}_{number}", number + 1
        taken.add(name.casefold())
        names.append(name)
    return names


def _write_page(brief: Brief, path: Path) -> None:
    from screening.report.brief.page import brief_page

    path.write_text(brief_page(brief), encoding="utf-8", newline="\n")


def _write_pdf(brief: Brief, path: Path) -> None:
    from screening.report.brief.pdf import brief_pdf

    path.write_bytes(brief_pdf(brief))
