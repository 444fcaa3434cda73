"""What a worker does with a chunk: read its lots, close its window, route it once, write its part."""

from __future__ import annotations

import dataclasses
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.batch.blocks import halve
from screening.batch.parts import LOTS_FILE, Part, clear_disk_errors, write_part, write_whole
from screening.batch.tasks import Chunk, ChunkReport, Job
from screening.errors import OutputError, ScreeningError
from screening.schema.codes.batch import LotProblem

if TYPE_CHECKING:
    import geopandas as gpd

    from screening.inputs import Site
    from screening.models import BlockResult, Note


BRIEF_CELLS_MAX = 14_000_000
"""Largest window of a block whose grids are not kept: about 210 bytes a cell, where a screening in full takes 300."""
SPLIT_M = 700.0
"""Extent down to which a block is halved while its window is too large to close [m]: what is left can look 1500 m
around before it meets that number of cells of 1 m."""


@dataclass(frozen=True)
class _Failure:
    lot_id: str
    reason: str


def screen_chunk(job: Job, chunk: Chunk) -> ChunkReport:
    """Screen the lots of a chunk and write its part.

    What goes wrong with some lots is halved until it costs only those it belongs to.

    Parameters
    ----------
    job, chunk
        Paths and ids.

    Raises
    ------
    OutputError
        The part cannot be written, or the folder of the run cannot be seen from here.
    """
    import numba
    import pandas as pd

    start = time.perf_counter()
    # Workers are processes that share the processors: threads beyond their own would only wait for each other.
    numba.set_num_threads(1)
    failed: dict[str, str] = {}
    notes: dict[Note, None] = {}
    frames: dict[str, list[Any]] = {}
    n_cells = n_windows = 0
    # Not by `enumerate`, which holds on to the last one while the next is made.
    for outcome in _screen(_open(job, chunk), job):
        if isinstance(outcome, _Failure):
            failed[outcome.lot_id] = outcome.reason
            continue
        notes |= dict.fromkeys(outcome.notes)
        n_cells += outcome.block.elev_m.size
        for name, frame in _tables(outcome).items():
            frames.setdefault(name, []).append(frame)
        if job.rasters:
            is_whole = len(outcome.block.lots) == len(chunk.lot_ids)
            _write_rasters(job, chunk.name if is_whole else f"{chunk.name}-{n_windows}", outcome)
        n_windows += 1
        # The grids of one window are gone before those of the next are made.
        del outcome
    tables = {name: pd.concat(parts, ignore_index=True) for name, parts in frames.items()}
    done = tuple(tables["lots"]["lot_id"]) if tables else ()
    failed |= dict.fromkeys(set(chunk.lot_ids) - set(done) - set(failed), LotProblem.NOT_IN_WINDOW.value)
    write_part(job.out_dir, Part(name=chunk.name, done=done, failed=failed, notes=tuple(notes)), tables)
    return ChunkReport(failed=failed, n_cells=n_cells, seconds=time.perf_counter() - start, peak_bytes=_peak_bytes())


def write_lot_page(job: Job, chunk: Chunk, folder: str) -> str:
    """Screen one lot in full and write its map, tables and sheet to a folder of the run's `pages`.

    Returns
    -------
    Empty text, or the reason why it cannot be made.
    """
    from screening.site.screen import Screening, screen_lots

    try:
        result = screen_lots(_open(job, chunk), criteria=job.criteria, rain=job.rain)
        Screening(result=result, title=f"Lot {chunk.lot_ids[0]}").write(job.out_dir / "pages" / folder)
    except OutputError:
        raise
    except Exception as error:
        return _reason(error)
    return ""


def _open(job: Job, chunk: Chunk) -> Site:
    """Open the site of a chunk: its lots come from the run's own file, so that ids and places are those of the plan."""
    import geopandas as gpd

    from screening.inputs import Site, open_rasters

    path = job.out_dir / LOTS_FILE
    if not path.is_file():
        raise OutputError(
            "A worker cannot see the folder of the run",
            got=str(job.out_dir),
            expected="a folder that the driver and all workers share under one path",
            mend="give --out and the inputs on storage that all workers share",
        )
    elevation, context = open_rasters(job.request)
    lots = gpd.read_parquet(path, filters=[("block", "==", chunk.block)])
    lots = lots[lots["lot_id"].isin(chunk.lot_ids)].sort_values("file_order").reset_index(drop=True)
    lots = lots[["lot_id", "geometry"]].set_crs(elevation.grid.crs, allow_override=True)
    return Site(
        request=job.request,
        elevation=elevation,
        lots=lots.astype({"lot_id": object}),
        notes=elevation.notes,
        context_elevation=context,
    )


def _screen(site: Site, job: Job) -> Iterator[BlockResult | _Failure]:
    """Screen lots in one window, or in windows of halves of them, one after the other."""
    outcome = _screen_whole(site, job)
    if outcome is not None:
        yield outcome
        return
    for half in _halves(site.lots):
        yield from _screen(dataclasses.replace(site, lots=half), job)


def _screen_whole(site: Site, job: Job) -> BlockResult | _Failure | None:
    """Screen lots in one window; None where their halves have to be tried."""
    from screening.site import screen as whole
    from screening.site.window import WINDOW_CELLS_MAX, is_cut_by_size

    # A lot alone has the window that it has in a screening of its own.
    is_large = len(site.lots) > 1 and not job.rasters
    cells_max = BRIEF_CELLS_MAX if is_large else WINDOW_CELLS_MAX
    try:
        block = whole.close_site(site, criteria=job.criteria, cells_max=cells_max)
        is_cut = is_cut_by_size(block, cells_max=cells_max)
        if len(site.lots) == 1 or _extent_m(site.lots) <= SPLIT_M or not is_cut:
            return whole.screen_closed(block, criteria=job.criteria, rain=job.rain, in_brief=not job.rasters)
    except OutputError:
        raise
    except Exception as error:
        # Whatever it is, it must not cost other lots theirs.
        if len(site.lots) == 1:
            return _Failure(site.lots["lot_id"].iloc[0], _reason(error))
    return None


def _extent_m(lots: gpd.GeoDataFrame) -> float:
    west, south, east, north = lots.total_bounds
    return max(float(east - west), float(north - south))


def _halves(lots: gpd.GeoDataFrame) -> list[gpd.GeoDataFrame]:
    bounds = lots.geometry.bounds.to_numpy(float)
    return [lots.iloc[rows].reset_index(drop=True) for rows in halve(np.arange(len(lots)), bounds)]


def _reason(error: Exception) -> str:
    return str(error) if isinstance(error, ScreeningError) else f"{type(error).__name__}: {error}"


def _tables(result: BlockResult) -> dict[str, Any]:
    """Tables of a window, as a part holds them: codes, no sentences."""
    from screening.batch.parts import TABLES, pack_facts
    from screening.report.tables.files import coded_table

    return {name: pack_facts(coded_table(result, told_as)) for name, told_as in TABLES.items()}


def _write_rasters(job: Job, name: str, result: BlockResult) -> None:
    from screening.report.tables.rasters import raster_writers

    folder = job.out_dir / "rasters" / name
    with clear_disk_errors(folder):
        folder.mkdir(parents=True, exist_ok=True)
    for file_name, write in raster_writers(result).values():
        write_whole(folder / file_name, partial(_write_cog, write=write))


def _write_cog(place: Path, *, write: Callable[[Path], None]) -> None:
    """Write a raster as a Cloud Optimized GeoTIFF, which readers can take a part of over a network."""
    import rasterio.shutil

    plain = place.with_name(f"{place.stem}-plain.tif")
    try:
        write(plain)
        rasterio.shutil.copy(plain, place, driver="COG", compress="zstd")
    finally:
        plain.unlink(missing_ok=True)


def _peak_bytes() -> int:
    try:
        import resource
    except ImportError:  # not a Unix
        return 0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
