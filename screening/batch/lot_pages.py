"""Full outputs of the first lots by rank, made when asked for."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from screening.batch.plan import Plan
from screening.batch.tasks import Chunk, Job
from screening.batch.waiting import Waiter, reason_of
from screening.batch.worker import write_lot_page
from screening.errors import InputError, ScreeningError

if TYPE_CHECKING:
    import geopandas as gpd
    from distributed import Client

_NAME_LETTERS = 40


def read_pages(text: str) -> int:
    """Read which lots get pages of their own.

    Raises
    ------
    InputError
        It is not `top:N`.

    Examples
    --------
    >>> read_pages("top:50")
    50
    """
    found = re.fullmatch(r"top:([1-9]\d{0,5})", text.strip())
    if not found:
        raise InputError("--pages cannot be read", got=text, expected="top:N, such as top:50", mend="correct --pages")
    return int(found[1])


def folder_name(rank: int, lot_id: str) -> str:
    """Name a folder by rank and what of an id is harmless in a file name.

    Examples
    --------
    >>> folder_name(7, "../x y"), folder_name(12, "CON")
    ('00007-x-y', '00012-CON')
    """
    plain = re.sub(r"[^A-Za-z0-9]+", "-", lot_id).strip("-")[:_NAME_LETTERS]
    return f"{rank:05d}-{plain}" if plain else f"{rank:05d}"


def write_lot_pages(client: Client, job: Job, plan: Plan, summary: gpd.GeoDataFrame, n_pages: int) -> dict[str, str]:
    """Screen the first lots by rank again, each alone and in full, on the workers of a client.

    Returns
    -------
    Reasons of lots whose pages cannot be made, by id.
    """
    block = dict(zip(plan.lots["lot_id"], plan.lots["block"], strict=True))
    ranked = summary[summary["visit_rank"].notna()].head(n_pages)
    waiter, running, reasons = Waiter(client), {}, {}
    for lot_id, rank in zip(ranked["lot_id"], ranked["visit_rank"], strict=True):
        chunk = Chunk(int(block[lot_id]), (lot_id,))
        running[client.submit(write_lot_page, job, chunk, folder_name(int(rank), lot_id), pure=False)] = lot_id
    while running:
        for future, outcome in waiter.collect(running):
            lot_id = running.pop(future)
            if isinstance(outcome, ScreeningError):
                raise outcome
            reasons[lot_id] = reason_of(outcome) if isinstance(outcome, Exception) else outcome
    return {lot_id: reason for lot_id, reason in reasons.items() if reason}
