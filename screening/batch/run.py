"""A batch from request to ranked tables: plan, hand out, gather; run again it goes on where it was."""

from __future__ import annotations

import dataclasses
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from screening.batch.parts import read_parts, winners
from screening.batch.plan import Plan, make_plan
from screening.batch.tasks import Chunk, ChunkReport, Job
from screening.errors import InputError
from screening.models import Rain, SiteRequest
from screening.schema.criteria import Criteria
from screening.site.chosen_rain import choose_rain

if TYPE_CHECKING:
    import geopandas as gpd

Progress = Callable[[str, int, int, int], None]
"""Told: what is being done, lots settled, lots in all, lots failed."""


@dataclass(frozen=True, kw_only=True)
class BatchOptions:
    """How a batch is run; none of it changes what is found.

    Parameters
    ----------
    n_workers
        Worker processes on this machine; None = as many as processors and memory allow.
    scheduler
        Address of a Dask scheduler, in place of workers on this machine.
    restart
        Discard what an earlier run has left in the folder.
    retry_failed
        Take up the lots again that failed, each alone.
    rasters
        Write the grids of each block.
    n_pages
        Lots, first by rank, that get outputs of their own.
    """

    n_workers: int | None = None
    scheduler: str | None = None
    restart: bool = False
    retry_failed: bool = False
    rasters: bool = False
    n_pages: int = 0


@dataclass(frozen=True, kw_only=True, eq=False)
class BatchReport:
    """What came of a batch.

    Parameters
    ----------
    summary
        One row a lot, ranked: see `columns.batch_columns`.
    written
        Paths of the outputs by name.
    is_complete
        False where the run was interrupted: nothing was gathered, and the same command goes on.
    n_settled, n_lots
        Lots that have findings or a reason, of how many.
    seconds, n_cells, n_screened, peak_bytes
        Wall time of the chunks of this run [s]; cells and lots screened in it; most memory of any worker.
    """

    summary: gpd.GeoDataFrame | None
    written: dict[str, Path]
    is_complete: bool
    n_settled: int
    n_lots: int
    seconds: float
    n_cells: int
    n_screened: int
    peak_bytes: int


@dataclass(kw_only=True)
class _Tally:
    """Counts of a run as it goes."""

    n_settled: int
    n_lots: int
    n_failed: int
    n_cells: int = 0
    n_screened: int = 0
    peak_bytes: int = 0

    def add(self, chunk: Chunk, report: ChunkReport) -> None:
        self.n_settled += len(chunk.lot_ids)
        self.n_screened += len(chunk.lot_ids)
        self.n_failed += len(report.failed)
        self.n_cells += report.n_cells
        self.peak_bytes = max(self.peak_bytes, report.peak_bytes)


def run_batch(
    request: SiteRequest,
    out_dir: Path,
    *,
    criteria: Criteria | None = None,
    rain: Rain | None = None,
    options: BatchOptions | None = None,
    progress: Progress = lambda step, n_settled, n_lots, n_failed: None,
) -> BatchReport:
    """Screen all lots of a layer, block by block, on the workers of a Dask scheduler.

    Parameters
    ----------
    request
        Files and lots; `at` and `radius_m` have no meaning here.
    out_dir
        Folder of the run: parts as they are done, then the outputs. With the same request it goes on where it was.
    criteria, rain
        As for `screen_site`.
    options
        How it is run.
    progress
        Told of each step.

    Returns
    -------
    Ranked lots and the paths of the outputs.

    Raises
    ------
    InputError
        An input cannot be used, or the folder holds parts made from something else.
    OutputError
        The folder cannot be written; what is done is kept.
    """
    options, criteria = options or BatchOptions(), criteria or Criteria()
    rain = rain or choose_rain(criteria=criteria)
    job = Job(
        request=_absolute(request),
        criteria=criteria,
        rain=rain,
        out_dir=Path(out_dir).resolve(),
        rasters=options.rasters,
    )
    progress("reading the inputs", 0, 0, 0)
    plan = make_plan(job, restart=options.restart)
    chunks, tally = _left_to_do(job, plan, retry_failed=options.retry_failed)
    start = time.perf_counter()
    is_complete = True
    if chunks:
        is_complete = _screen(job, chunks, tally, options, progress)
    seconds = time.perf_counter() - start
    summary: gpd.GeoDataFrame | None = None
    written: dict[str, Path] = {}
    if is_complete:
        from screening.batch.gather import gather_outputs
        from screening.batch.hashes import changed, hash_job

        progress("gathering", tally.n_settled, tally.n_lots, tally.n_failed)
        different = changed(plan.hashes, hash_job(job))
        if different:
            raise InputError(
                "Inputs changed while the batch ran", got=", ".join(different), mend="run it again with --restart"
            )
        summary, written = gather_outputs(job, plan)
        if options.n_pages:
            progress("writing the pages of the first lots", tally.n_settled, tally.n_lots, tally.n_failed)
            written["pages"] = _write_pages(job, plan, summary, options)
    return BatchReport(
        summary=summary,
        written=written,
        is_complete=is_complete,
        n_settled=tally.n_settled,
        n_lots=tally.n_lots,
        seconds=seconds,
        n_cells=tally.n_cells,
        n_screened=tally.n_screened,
        peak_bytes=tally.peak_bytes,
    )


def _left_to_do(job: Job, plan: Plan, *, retry_failed: bool) -> tuple[list[Chunk], _Tally]:
    part_of, reason_of = winners(read_parts(job.out_dir))
    ids = set(plan.lots["lot_id"])
    done, failed = part_of.keys() & ids, reason_of.keys() & ids
    chunks = list(plan.chunks(done | failed))
    n_refused = int((plan.lots["block"] < 0).sum())
    if retry_failed:
        # Each alone: what failed with it the first time shall not fail it again.
        chunks += [Chunk(chunk.block, (lot_id,)) for chunk in plan.chunks(ids - failed) for lot_id in chunk.lot_ids]
        failed = set()
    n_failed = len(failed) + n_refused
    return chunks, _Tally(n_settled=len(done) + n_failed, n_lots=len(plan.lots), n_failed=n_failed)


def _screen(job: Job, chunks: list[Chunk], tally: _Tally, options: BatchOptions, progress: Progress) -> bool:
    """Hand out the chunks; False where the user interrupted."""
    from screening.batch.cluster import open_client
    from screening.batch.driver import run_chunks

    def on_done(chunk: Chunk, report: ChunkReport) -> None:
        tally.add(chunk, report)
        progress("screening", tally.n_settled, tally.n_lots, tally.n_failed)

    try:
        progress("starting the workers", tally.n_settled, tally.n_lots, tally.n_failed)
        with open_client(n_workers=options.n_workers, scheduler=options.scheduler) as client:
            progress("screening (kernels are compiled once)", tally.n_settled, tally.n_lots, tally.n_failed)
            run_chunks(client, job, chunks, on_done=on_done)
    except KeyboardInterrupt:
        return False
    return True


def _write_pages(job: Job, plan: Plan, summary: gpd.GeoDataFrame, options: BatchOptions) -> Path:
    """Write the pages of the first lots; what cannot be made is listed beside them."""
    from screening.batch.cluster import open_client
    from screening.batch.lot_pages import write_lot_pages
    from screening.batch.parts import write_whole

    folder = job.out_dir / "pages"
    with open_client(n_workers=options.n_workers, scheduler=options.scheduler) as client:
        reasons = write_lot_pages(client, job, plan, summary, options.n_pages)
    if reasons:
        folder.mkdir(exist_ok=True)
        text = "".join(f"{lot_id!r}: {reason}\n" for lot_id, reason in reasons.items())
        write_whole(folder / "not_made.txt", lambda path: path.write_text(text, encoding="utf-8"))
    return folder


def _absolute(request: SiteRequest) -> SiteRequest:
    """Workers may have another current folder."""
    values: dict[str, Any] = {}
    for spec in dataclasses.fields(request):
        value = getattr(request, spec.name)
        if isinstance(value, Path):
            values[spec.name] = value if str(value).startswith("/vsi") else value.resolve()
        elif isinstance(value, str):
            path, mark, layer = value.partition("::")
            if Path(path).exists():
                values[spec.name] = f"{Path(path).resolve()}{mark}{layer}"
    return dataclasses.replace(request, **values)
