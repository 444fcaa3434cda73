"""The command `batch`: many lots, on this machine or on a cluster."""

from __future__ import annotations

import gc
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from screening.commands.options import (
    clear_errors,
    criteria_of,
    error_options,
    input_options,
    rain_options,
    rains_of,
    request_of,
    say,
    with_capture,
    with_error,
)
from screening.schema.codes.batch import LotStatus

if TYPE_CHECKING:
    from screening.batch import BatchReport

_SHOWN = 10


@click.command()
@input_options
@rain_options
@error_options
@click.option("--out", "out_dir", required=True, type=click.Path(path_type=Path), help="Folder for parts and outputs.")
@click.option("--workers", "n_workers", type=click.IntRange(1), metavar="N", help="Worker processes on this machine.")
@click.option("--scheduler", metavar="tcp://HOST:PORT", help="Dask scheduler to use, in place of this machine.")
@click.option("--retry-failed", is_flag=True, help="Take up the lots again that failed.")
@click.option("--restart", is_flag=True, help="Discard what an earlier run left in the folder.")
@click.option("--rasters", is_flag=True, help="Write the grids of each block too, as Cloud Optimized GeoTIFF.")
@click.option("--pages", metavar="top:N", help="Write full outputs of the first N lots by rank, such as top:50.")
def batch(
    storms: tuple[str, ...],
    rain_in: float | None,
    rain_mm: float | None,
    capture_in: float | None,
    capture_mm: float | None,
    criteria_path: Path | None,
    profile: str | None,
    realisations: int | None,
    seed: int | None,
    out_dir: Path,
    n_workers: int | None,
    scheduler: str | None,
    retry_failed: bool,
    restart: bool,
    rasters: bool,
    pages: str | None,
    rainfall: Path | None,
    **inputs: Any,
) -> None:
    """Screen thousands of lots, ranked; run the same command again to go on after an interruption."""
    from screening.batch import BatchOptions, run_batch
    from screening.batch.lot_pages import read_pages
    from screening.errors import InputError

    gc.enable()
    with clear_errors():
        if n_workers and scheduler:
            raise InputError("Both --workers and --scheduler were given", mend="give one of the two")
        criteria = with_error(criteria_of(criteria_path, profile), realisations, seed)
        criteria = with_capture(criteria, capture_in, capture_mm)
        if len(set(storms)) > 1:
            raise InputError("Several storms were given", got=", ".join(storms), mend="give one --storm")
        (rain,) = rains_of(rainfall, storms, rain_in, rain_mm, criteria)
        options = BatchOptions(
            n_workers=n_workers,
            scheduler=scheduler,
            restart=restart,
            retry_failed=retry_failed,
            rasters=rasters,
            n_pages=read_pages(pages) if pages else 0,
        )
        with _progress() as progress:
            report = run_batch(
                request_of(**inputs), out_dir, criteria=criteria, rain=rain, options=options, progress=progress
            )
    _print(report, out_dir)


def _print(report: BatchReport, out_dir: Path) -> None:
    """Print what came of it; exit 1 if it is not complete or lots failed."""
    n_lots = report.n_lots
    if report.summary is None:
        say(
            f"Interrupted: {report.n_settled:,} of {n_lots:,} lots are settled and kept in {out_dir}. "
            "Run the same command again to go on.",
            err=True,
        )
        sys.exit(1)
    counts = report.summary["status"].value_counts()
    say(f"{n_lots:,} lots: " + ", ".join(f"{n:,} {status}" for status, n in counts.items()))
    if report.n_screened and report.seconds > 0:
        rate, cells = report.n_screened / report.seconds, report.n_cells / report.seconds / 1e6
        speed = f"{rate:.2g} lots/s, {cells:.2g} million cells/s, at most {report.peak_bytes / 2**30:.1f} GiB a worker"
        say(f"{report.n_screened:,} of them in {report.seconds:,.0f} s: {speed}")
    is_assessed = report.summary["status"] == LotStatus.ASSESSED
    if is_assessed.any():
        say(f"  {'rank':>4}  {'lot':<24} {'score':>6}  main finding")
    for _, row in report.summary.head(_SHOWN).iterrows():
        if row["status"] == LotStatus.ASSESSED:
            numbers = f"{row['visit_rank']:>4}  {_short(row['lot_id']):<24} {row['visit_score']:6.1f}"
            say(f"  {numbers}  {row['main_finding']}")
    for path in report.written.values():
        say(f"  {path}")
    say("Results are screening, not design.")
    unsettled = report.summary[~is_assessed]
    for reason, n in unsettled["reason"].value_counts().head(_SHOWN).items():
        say(f"{n:,} lots: {reason}", err=True)
    if len(unsettled):
        sys.exit(1)


def _short(lot_id: str) -> str:
    """Make an id fit a line of the terminal."""
    plain = "".join(letter if letter.isprintable() else "?" for letter in lot_id)
    return plain if len(plain) <= 24 else plain[:23] + "…"


@contextmanager
def _progress() -> Iterator[Callable[[str, int, int, int], None]]:
    """Show lots, rate and time left as a bar on a terminal, and nothing elsewhere."""
    hidden = not sys.stderr.isatty()
    with click.progressbar(
        length=1, file=sys.stderr, hidden=hidden, show_pos=True, item_show_func=lambda words: words or ""
    ) as bar:

        def tell(step: str, n_settled: int, n_lots: int, n_failed: int) -> None:
            bar.length = max(n_lots, 1)
            rate = 1.0 / bar.time_per_iteration if bar.time_per_iteration else 0.0
            words = step + (f", {rate:.3g} lots/s" if rate else "") + (f", {n_failed:,} failed" if n_failed else "")
            bar.update(n_settled - bar.pos, current_item=words)

        yield tell
