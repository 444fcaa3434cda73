"""The command line: parse, call, print, exit code. 0 = done, 1 = some lots failed, 2 = bad input."""

from __future__ import annotations

import dataclasses
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from screening.errors import ScreeningError
from screening.plain_text import plain_lines

if TYPE_CHECKING:
    from screening.criteria import Criteria
    from screening.models import Rain, SiteRequest
    from screening.site import Screening

_STEPS = 4
_LAYER_HELP = {
    "lots": "Lot (parcel) polygons",
    "structures": "Building footprints",
    "driveways": "Driveway polygons",
    "roads": "Street pavement polygons",
    "soils": "Soil polygons with hydrologic groups (hydgrp) and mukey",
    "drains": "Culverts, pipes, swales and ditches, as lines",
    "wells": "Water wells, as points",
    "septic": "Septic fields, as polygons",
    "barriers": "Kerbs, walls and berms, as lines with height_m",
    "downspouts": "Downspouts, as points",
    "doors": "Doors, garage doors, window wells and vents, as points with kind and sill_elev_m",
    "wetlands": "Wetlands and open water, as polygons",
    "utilities": "Buried utilities, as lines",
    "trees": "Ground under trees, as polygons",
}


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="screening")
def cli() -> None:
    """Screen house lots for water problems, from open elevation and parcel data.

    Results are screening, not design. Vector inputs may name a layer as PATH::LAYER.
    """


def _input_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that say what to screen, shared by `site` and `inspect`."""
    options = [
        click.option("--elevation", type=click.Path(path_type=Path), help="Elevation raster, any GDAL format."),
        *(click.option(f"--{name}", metavar="FILE", help=text + ".") for name, text in _LAYER_HELP.items()),
        click.option("--lot-id", "lot_ids", multiple=True, help="Lot to screen; may be repeated. All lots if none."),
        click.option(
            "--at", metavar="LAT,LON", help="Take the lot at this place, or a circle round it if there are no lots."
        ),
        click.option(
            "--radius", "radius_m", type=float, default=60.0, show_default=True, help="Radius of that circle [m]."
        ),
        click.option("--lot-id-field", help="Column of the lot ids."),
        click.option("--soil-group-field", help="Column of the hydrologic soil groups."),
        click.option("--land-cover", metavar="FILE", help="Land cover: raster of classes, or polygons with covers."),
        click.option("--land-cover-field", help="Column of the covers."),
        click.option(
            "--land-cover-classes",
            metavar="FILE",
            type=click.Path(path_type=Path),
            help="Table class,cover of a raster that is not of the National Land Cover Database.",
        ),
        click.option("--vertical-unit", type=click.Choice(["m", "ft", "us-ft", "cm"]), help="Unit of the elevations."),
        click.option(
            "--context-elevation",
            type=click.Path(path_type=Path),
            help="Coarser elevation of the ground around, for what drains in from beyond the window.",
        ),
        click.option(
            "--context-vertical-unit", type=click.Choice(["m", "ft", "us-ft", "cm"]), help="Unit of its elevations."
        ),
        click.option(
            "--rainfall", type=click.Path(path_type=Path), help="Point precipitation table (NOAA Atlas 14 text)."
        ),
    ]
    for option in reversed(options):
        command = option(command)
    return command


def _error_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of elevation error, shared by `site` and `demo`."""
    number = click.option(
        "--realisations",
        type=click.IntRange(0, 10_000),
        metavar="N",
        help="Screen again N times under elevation error, to say which findings hold; 0 = do not.",
    )
    seed = click.option("--seed", type=click.IntRange(0, 2**32 - 1), metavar="N", help="Seed of those errors.")
    return number(seed(command))


def _brief_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the option that says which lots get a brief, shared by `site` and `demo`."""
    return click.option(
        "--brief", "briefs", multiple=True, metavar="LOT_ID",
        help="Lot to write a brief of; may be repeated; or `all`, `none`. By default the flagged lots to visit first.",
    )(command)  # fmt: skip


@cli.command()
@_input_options
@click.option(
    "--storm",
    "storms",
    multiple=True,
    metavar="10yr-24h",
    help="Return period and duration, taken from --rainfall. May be repeated: the first is the one of the checks and "
    "tables, the others can be switched to on the map.",
)
@click.option("--rain-in", type=float, help="Rain depth [in], in place of a storm.")
@click.option("--rain-mm", type=float, help="Rain depth [mm], in place of a storm.")
@click.option("--capture-in", type=float, help="Rain depth that storage is sized for [in], in place of the storm.")
@click.option("--capture-mm", type=float, help="The same [mm].")
@click.option("--criteria", "criteria_path", type=click.Path(path_type=Path), help="Thresholds (TOML).")
@click.option("--profile", metavar="NAME", help="Published set of thresholds; see `screening criteria`.")
@_error_options
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

    with _clear_errors():
        request = _request(**inputs)
        criteria = _with_error(_criteria(criteria_path, profile), realisations, seed)
        criteria = _with_capture(criteria, capture_in, capture_mm)
        rain = _rain(rainfall, storms[0] if storms else None, rain_in, rain_mm, criteria)
        further = tuple(_rain(rainfall, storm, None, None, criteria) for storm in dict.fromkeys(storms[1:]))
        with _progress(_STEPS + criteria.n_realisations) as progress:
            screening = screen_site(
                request,
                criteria=criteria,
                rain=rain,
                further_rains=further,
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


@cli.command()
@click.option(
    "--out", "out_dir", default=Path("maps/demo"), show_default=True, type=click.Path(path_type=Path),
    help="Folder for the outputs.",
)  # fmt: skip
@_error_options
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

    with _clear_errors():
        criteria = _with_error(Criteria(), realisations, seed)
        rain, *further = (
            choose_rain(rainfall=samples_dir() / "rainfall.csv", storm=storm, criteria=criteria)
            for storm in ("10yr-24h", "2yr-24h", "100yr-24h")
        )
        with _progress(_STEPS + criteria.n_realisations) as progress:
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
@_input_options
def inspect(result: Path | None, rainfall: Path | None, **inputs: Any) -> None:
    """Say what each input is, and whether a screening can run; or of a RESULT.json how its numbers came to be."""
    from screening.inputs import inspect_inputs

    with _clear_errors():
        if result is not None:
            from screening.report.trace import read_result, trace_result

            return _say(trace_result(read_result(result), lot_ids=inputs["lot_ids"], name=result.name))
        found = inspect_inputs(_request(**inputs), rainfall=rainfall)
    for item in found.items:
        _say(f"{item.subject}: {'ok' if item.ok else 'CANNOT BE USED'}   {item.path}")
        for label, text in item.facts.items():
            _say(f"  {label + ':':<22} {text}")
        for defect in item.defects:
            _say(f"  ! {defect}")
    _say("A screening can run." if found.can_run else f"A screening cannot run: {found.why_not}")
    sys.exit(0 if found.can_run else 2)


@cli.command()
@click.option("--out", "out_path", type=click.Path(path_type=Path), help="File to write the thresholds to (TOML).")
@click.option("--profile", metavar="NAME", help="Published set of thresholds to write, or under the file to check.")
@click.option("--check", "check_path", type=click.Path(path_type=Path), help="File of thresholds to check.")
def criteria(out_path: Path | None, profile: str | None, check_path: Path | None) -> None:
    """Write the thresholds with their sources, check a file of them, or list the published profiles."""
    from screening.criteria import PROFILES
    from screening.criteria.wording import difference_lines

    with _clear_errors():
        chosen = _criteria(check_path, profile)
        if check_path or profile:
            _say("\n".join(difference_lines(chosen)))
        if out_path:
            from screening.report.outputs import write_criteria

            write_criteria(chosen, out_path)
            _say(f"  {out_path}")
    if not (out_path or profile or check_path):
        for found in PROFILES.values():
            _say(f"{found.name}: {found.document}")
            _say(f"  {found.note}")


def _request(*, at: str | None, elevation: Path | None, **inputs: Any) -> SiteRequest:
    from screening.models import SiteRequest

    if elevation is None:
        raise click.UsageError("Missing option '--elevation'.")
    return SiteRequest(elevation=elevation, at=_place(at) if at else None, **inputs)


def _place(text: str) -> Any:
    from screening.errors import InputError
    from screening.models import LatLon

    try:
        lat, lon = (float(part) for part in text.split(","))
    except ValueError:
        lat = lon = 1e9
    if not (-90 <= lat <= 90 and -180 <= lon <= 180):
        raise InputError(
            "--at cannot be read",
            got=repr(text),
            expected="latitude and longitude in degrees, such as 38.8101,-77.0525",
            mend="write --at LAT,LON",
        )
    return LatLon(lat, lon)


def _criteria(path: Path | None, profile: str | None) -> Criteria:
    from screening.criteria import Criteria, choose_profile

    if path:
        from screening.inputs import read_criteria

        return read_criteria(path, profile=profile)
    return choose_profile(profile) if profile else Criteria()


def _with_error(criteria: Criteria, realisations: int | None, seed: int | None) -> Criteria:
    """Put what was asked for on the command line before what the criteria say."""
    asked = {"n_realisations": realisations, "error_seed": seed}
    given: dict[str, Any] = {name: value for name, value in asked.items() if value is not None}
    return dataclasses.replace(criteria, **given)


def _with_capture(criteria: Criteria, depth_in: float | None, depth_mm: float | None) -> Criteria:
    """Size storage for a typed rain, where one was typed."""
    depth = _depth_mm(depth_in, depth_mm, mend="give --capture-in or --capture-mm, not both")
    return criteria if depth is None else dataclasses.replace(criteria, capture_rain_mm=depth)


def _depth_mm(depth_in: float | None, depth_mm: float | None, *, mend: str) -> float | None:
    from screening.errors import InputError
    from screening.units import MM_PER_IN

    if depth_in is not None and depth_mm is not None:
        raise InputError("Two rain depths were given", mend=mend)
    return depth_in * MM_PER_IN if depth_in is not None else depth_mm


def _rain(
    rainfall: Path | None, storm: str | None, rain_in: float | None, rain_mm: float | None, criteria: Criteria
) -> Rain:
    from screening.site import choose_rain

    depth = _depth_mm(rain_in, rain_mm, mend="give --rain-in or --rain-mm, not both")
    return choose_rain(rainfall=rainfall, storm=storm, rain_mm=depth, criteria=criteria)


def _report(screening: Screening, written: dict[str, Path], *, verbose: bool) -> None:
    """Print the summary on stdout, the notes on stderr if asked; exit 1 if a lot could not be assessed."""
    from screening.report import summarize

    _say(summarize(screening.result, units=screening.units, title=screening.title))
    for path in written.values():
        _say(f"  {path}")
    if verbose:
        for note in screening.result.notes:
            _say(f"{note.kind}: {note.subject}: {note.text}", err=True)
    failed = screening.summary.loc[~(screening.summary["assessed_frac"] > 0), "lot_id"].tolist()
    if failed:
        _say(f"Not assessed, no ground of their own with elevation: {', '.join(failed)}", err=True)
        sys.exit(1)


def _say(text: str, *, err: bool = False) -> None:
    click.echo(plain_lines(text), err=err)


@contextmanager
def _clear_errors() -> Iterator[None]:
    """Turn a refusal into its message and exit code 2; anything else is a bug and keeps its traceback."""
    try:
        yield
    except ScreeningError as error:
        _say(f"Error: {error}", err=True)
        sys.exit(2)


@contextmanager
def _progress(n_steps: int) -> Iterator[Callable[[str], None]]:
    """Show the steps as a bar on a terminal, and nothing elsewhere."""
    hidden = not sys.stderr.isatty()
    with click.progressbar(
        length=n_steps,
        file=sys.stderr,
        hidden=hidden,
        show_eta=False,
        item_show_func=lambda step: step or "",
    ) as bar:

        def begin(step: str) -> None:
            bar.update(1 if bar.current_item else 0, current_item=step)

        yield begin
        bar.update(n_steps - bar.pos)


def main() -> None:
    """Run the command line."""
    cli()
