"""The command line: parse, call, print, exit code. 0 = done, 1 = some lots failed, 2 = bad input."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from screening.batch_command import batch
from screening.driveway_command import driveway
from screening.options import (
    clear_errors,
    criteria_of,
    error_options,
    input_options,
    place_options,
    rain_options,
    rains_of,
    request_of,
    show_steps,
    with_capture,
    with_error,
)

if TYPE_CHECKING:
    from screening.criteria import Criteria
    from screening.site import Screening

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
        help="Lot to write a brief of; may be repeated; or `all`, `none`. By default the flagged lots to visit first.",
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
    verbose: bool,
    rainfall: Path | None,
    **inputs: Any,
) -> None:
    """Screen one site: a lot, several lots, or a circle round a place."""
    from screening.site import screen_site
    from screening.workers import count_processors

    with clear_errors():
        request = request_of(**inputs)
        criteria = with_error(criteria_of(criteria_path, profile), realisations, seed)
        criteria = with_capture(criteria, capture_in, capture_mm)
        rain, *further = rains_of(rainfall, storms, rain_in, rain_mm, criteria)
        with show_steps(_STEPS + criteria.n_realisations) as progress:
            screening = screen_site(
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
                briefs=briefs or None,
                rasters=rasters,
            )
        _report(screening, written, verbose=verbose)


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
    from screening.criteria import Criteria
    from screening.site import choose_rain, demo_request, samples_dir, screen_site
    from screening.workers import count_processors

    with clear_errors():
        criteria = with_error(Criteria(), realisations, seed)
        rain, *further = (
            choose_rain(rainfall=samples_dir() / "rainfall.csv", storm=storm, criteria=criteria)
            for storm in ("10yr-24h", "2yr-24h", "100yr-24h")
        )
        with show_steps(_STEPS + criteria.n_realisations) as progress:
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
@input_options
@place_options
def inspect(rainfall: Path | None, **inputs: Any) -> None:
    """Say what each input is, what is wrong with it, and whether a screening can run."""
    from screening.inputs import inspect_inputs

    with clear_errors():
        found = inspect_inputs(request_of(**inputs), rainfall=rainfall)
    for item in found.items:
        click.echo(f"{item.subject}: {'ok' if item.ok else 'CANNOT BE USED'}   {item.path}")
        for label, text in item.facts.items():
            click.echo(f"  {label + ':':<22} {text}")
        for defect in item.defects:
            click.echo(f"  ! {defect}")
    click.echo("A screening can run." if found.can_run else f"A screening cannot run: {found.why_not}")
    sys.exit(0 if found.can_run else 2)


@cli.command()
@click.option("--out", "out_path", type=click.Path(path_type=Path), help="File to write the thresholds to (TOML).")
@click.option("--profile", metavar="NAME", help="Published set of thresholds to write, or under the file to check.")
@click.option("--check", "check_path", type=click.Path(path_type=Path), help="File of thresholds to check.")
def criteria(out_path: Path | None, profile: str | None, check_path: Path | None) -> None:
    """Write the thresholds with their sources, check a file of them, or list the published profiles."""
    from screening.criteria import PROFILES

    with clear_errors():
        chosen = criteria_of(check_path, profile)
        if check_path or profile:
            _print_differences(chosen)
        if out_path:
            from screening.report.outputs import write_criteria

            write_criteria(chosen, out_path)
            click.echo(f"  {out_path}")
    if not (out_path or profile or check_path):
        for found in PROFILES.values():
            click.echo(f"{found.name}: {found.document}")
            click.echo(f"  {found.note}")


def _print_differences(chosen: Criteria) -> None:
    """Print in what thresholds differ from the default, and where each value comes from."""
    from screening.criteria import Criteria, describe, differences, profile_words

    click.echo(f"Thresholds: {profile_words(chosen)}")
    default, differing = Criteria(), differences(chosen, Criteria())
    for row in describe(chosen):
        if row["name"] in differing:
            before = getattr(default, row["name"])
            click.echo(f"  {row['name']} = {_value_words(row['value'])} (default {_value_words(before)})")
            click.echo(f"    {row['source']}")
    if not differing:
        click.echo("  no value differs from the default")


def _value_words(value: Any) -> str:
    return ", ".join(value) if isinstance(value, tuple) else f"{value:g}" if isinstance(value, float) else str(value)


def _report(screening: Screening, written: dict[str, Path], *, verbose: bool) -> None:
    """Print the summary on stdout, the notes on stderr if asked; exit 1 if a lot could not be assessed."""
    from screening.report import summarize

    click.echo(summarize(screening.result, units=screening.units, title=screening.title))
    for path in written.values():
        click.echo(f"  {path}")
    if verbose:
        for note in screening.result.notes:
            click.echo(f"{note.kind}: {note.subject}: {note.text}", err=True)
    failed = screening.summary.loc[~(screening.summary["assessed_frac"] > 0), "lot_id"].tolist()
    if failed:
        click.echo(f"Not assessed, no elevation on them: {', '.join(failed)}", err=True)
        sys.exit(1)


def main() -> None:
    """Run the command line."""
    cli()
