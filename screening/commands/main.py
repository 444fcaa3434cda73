"""The command line: parse, call, print, exit code. 0 = done, 1 = some lots failed, 2 = bad input."""

from __future__ import annotations

import gc
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from screening.commands.batch import batch
from screening.commands.driveway import driveway
from screening.commands.options import (
    clear_errors,
    criteria_of,
    error_options,
    input_options,
    place_options,
    rain_options,
    rains_of,
    request_of,
    say,
    show_steps,
    with_capture,
    with_error,
)

if TYPE_CHECKING:
    from screening.site.screen import Screening

_STEPS = 4


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="screening")
def cli() -> None:
    """Screen house lots for water problems, from open elevation and parcel data.

    Results are screening, not design. Vector inputs may name a layer as PATH::LAYER.
    """


def _brief_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the option that says which lots get a brief, shared by `site` and `demo`."""
    return click.option(
        "--brief",
        "briefs",
        multiple=True,
        metavar="LOT_ID",
        help="Lot to write a brief of; may be repeated; or `all`, `none`. "
        "By default the lots named by --lot-id, else the first to visit.",
    )(command)


@cli.command()
@input_options
@place_options
@rain_options
@error_options
@click.option("--units", type=click.Choice(["metric", "us"]), default="metric", show_default=True, help="Units shown.")
@click.option("--title", default="", help="Heading of the map and the summary.")
@click.option("--basemap-url", help="Online tile address with {z} {x} {y}; the map works without it.")
@click.option("--basemap-attribution", default="", help="Credit line of that base map.")
@click.option("--out", "out_dir", required=True, type=click.Path(path_type=Path), help="Folder for the outputs.")
@_brief_option
@click.option("--rasters", is_flag=True, help="Write the grids too, as GeoTIFF.")
@click.option(
    "--improvements",
    metavar="FILE",
    help="Proposed improvements to try out: the site before and after them is compared.",
)
@click.option("--verbose", is_flag=True, help="Log every note on stderr.")
def site(
    storms: tuple[str, ...],
    rain_in: float | None,
    rain_mm: float | None,
    capture_in: float | None,
    capture_mm: float | None,
    criteria_path: Path | None,
    realisations: int | None,
    seed: int | None,
    profile: str | None,
    units: Any,
    title: str,
    basemap_url: str | None,
    basemap_attribution: str,
    out_dir: Path,
    briefs: tuple[str, ...],
    rasters: bool,
    improvements: str | None,
    verbose: bool,
    rainfall: Path | None,
    **inputs: Any,
) -> None:
    """Screen one site: a lot, several lots, or a circle round a place."""
    from screening.report.improvements.words import summarize_changes
    from screening.site.screen import screen_site
    from screening.site.try_improvements import try_improvements
    from screening.workers import count_processors

    screen = partial(try_improvements, improvements=improvements) if improvements else screen_site
    with clear_errors():
        request = request_of(**inputs)
        criteria = with_error(criteria_of(criteria_path, profile), realisations, seed)
        criteria = with_capture(criteria, capture_in, capture_mm)
        rain, *further = rains_of(rainfall, storms, rain_in, rain_mm, criteria)
        with show_steps(_STEPS + criteria.findings.n_realisations) as progress:
            screening: Any = screen(
                request,
                criteria=criteria,
                rain=rain,
                further_rains=tuple(further),
                title=title,
                units=units,
                progress=progress,
                n_workers=count_processors(),
            )
            progress("writing the outputs")
            written = screening.write(
                out_dir,
                basemap_url=basemap_url,
                basemap_attribution=basemap_attribution or None,
                briefs=briefs or request.lot_ids or None,
                rasters=rasters,
            )
        if improvements:
            say(summarize_changes(screening.trial, screening.units))
        _report(screening.after if improvements else screening, written, verbose=verbose)


cli.add_command(batch)
cli.add_command(driveway)


@cli.command()
@click.option(
    "--out",
    "out_dir",
    default=Path("maps/demo"),
    show_default=True,
    type=click.Path(path_type=Path),
    help="Folder for the outputs.",
)
@error_options
@click.option("--units", type=click.Choice(["metric", "us"]), default="metric", show_default=True, help="Units shown.")
@_brief_option
@click.option("--rasters", is_flag=True, help="Write the grids too, as GeoTIFF.")
@click.option("--verbose", is_flag=True, help="Log every note on stderr.")
def demo(
    out_dir: Path,
    realisations: int | None,
    seed: int | None,
    units: Any,
    briefs: tuple[str, ...],
    rasters: bool,
    verbose: bool,
) -> None:
    """Screen the sample neighbourhood: an invented hillside with about two dozen lots."""
    from screening.schema.criteria import Criteria
    from screening.site.samples import demo_rains, demo_request
    from screening.site.screen import screen_site
    from screening.workers import count_processors

    with clear_errors():
        criteria = with_error(Criteria(), realisations, seed)
        rain, *further = demo_rains(criteria)
        with show_steps(_STEPS + criteria.findings.n_realisations) as progress:
            screening = screen_site(
                demo_request(),
                criteria=criteria,
                rain=rain,
                further_rains=tuple(further),
                title="Sample neighbourhood",
                units=units,
                progress=progress,
                n_workers=count_processors(),
            )
            progress("writing the outputs")
            written = screening.write(out_dir, briefs=briefs or None, rasters=rasters)
        _report(screening, written, verbose=verbose)


@cli.command()
@click.argument("result", required=False, type=click.Path(path_type=Path))
@input_options
@place_options
def inspect(result: Path | None, rainfall: Path | None, **inputs: Any) -> None:
    """Say what each input is, and whether a screening can run; or of a RESULT.json how its numbers came to be."""
    from screening.inputs import inspect_inputs
    from screening.report.inspection import inspection_lines

    with clear_errors():
        if result is not None:
            from screening.report.trace import read_result, trace_result

            return say(trace_result(read_result(result), lot_ids=inputs["lot_ids"], name=result.name))
        found = inspect_inputs(request_of(**inputs), rainfall=rainfall)
    for line in inspection_lines(found):
        say(line)
    sys.exit(0 if found.can_run else 2)


@cli.command()
@click.option("--out", "out_path", type=click.Path(path_type=Path), help="File to write the thresholds to (TOML).")
@click.option("--profile", metavar="NAME", help="Published set of thresholds to write, or under the file to check.")
@click.option("--check", "check_path", type=click.Path(path_type=Path), help="File of thresholds to check.")
def criteria(out_path: Path | None, profile: str | None, check_path: Path | None) -> None:
    """Write the thresholds with their sources, check a file of them, or list the published profiles."""
    from screening.schema.criteria import PROFILES
    from screening.schema.criteria.wording import difference_lines

    with clear_errors():
        chosen = criteria_of(check_path, profile)
        if check_path or profile:
            say("\n".join(difference_lines(chosen)))
        if out_path:
            from screening.report.outputs import write_criteria

            write_criteria(chosen, out_path)
            say(f"  {out_path}")
    if not (out_path or profile or check_path):
        for found in PROFILES.values():
            say(f"{found.name}: {found.document}")
            say(f"  {found.note}")


def _report(screening: Screening, written: dict[str, Path], *, verbose: bool) -> None:
    """Print the summary on stdout, the notes on stderr if asked; exit 1 if a lot could not be assessed."""
    from screening.report.terminal import files_words, summarize
    from screening.report.words.notes import note_words

    say(summarize(screening.result, units=screening.units, title=screening.title))
    say(f"\n{files_words(written)}")
    if verbose:
        for note in screening.result.notes:
            say(f"{note.kind}: {note.subject}: {note_words(note)}", err=True)
    failed = screening.summary.loc[~(screening.summary["assessed_frac"] > 0), "lot_id"].tolist()
    if failed:
        say(f"Not assessed, no ground of their own with elevation: {', '.join(failed)}", err=True)
        sys.exit(1)


def main() -> None:
    """Run the command line."""
    # A screening makes its rows and ends: to look for cycles among them takes it a twentieth longer. What goes on for
    # long, a batch or many realisations, has them collected.
    gc.disable()
    try:
        cli()
    finally:
        # What is left goes with the process: to look through it first takes as long.
        gc.freeze()
