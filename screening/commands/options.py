"""Options that several commands share, and the values that are made of them."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from screening.errors import ScreeningError
from screening.plain_text import plain_lines

if TYPE_CHECKING:
    from screening.models import Rain, SiteRequest
    from screening.schema.criteria import Criteria

_LAYER_HELP = {
    "lots": "Lot (parcel) polygons",
    "structures": "Building footprints",
    "driveways": "Driveway polygons",
    "roads": "Street pavement polygons",
    "soils": "Soil polygons with hydrologic groups (hydgrp) and mukey",
    "drains": "Culverts, pipes, swales and ditches, as lines",
    "wells": "Water wells, as points",
    "septic": "Septic fields, as polygons",
    "barriers": "Curbs, walls and berms, as lines with height_m",
    "downspouts": "Downspouts, as points",
    "doors": "Doors, garage doors, window wells and vents, as points with kind and sill_elev_m",
    "wetlands": "Wetlands and open water, as polygons",
    "utilities": "Buried utilities, as lines",
    "trees": "Ground under trees, as polygons",
}


def input_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that say what to screen, shared by `site`, `batch` and `inspect`."""
    options = [
        click.option("--elevation", type=click.Path(path_type=Path), help="Elevation raster, any GDAL format."),
        *(click.option(f"--{name}", metavar="FILE", help=text + ".") for name, text in _LAYER_HELP.items()),
        click.option("--lot-id", "lot_ids", multiple=True, help="Lot to screen; may be repeated. All lots if none."),
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


def place_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that say what to screen by its place, shared by `site` and `inspect`."""
    place = click.option(
        "--at", metavar="LAT,LON", help="Take the lot at this place, or a circle round it if there are no lots."
    )
    radius = click.option(
        "--radius", "radius_m", type=float, default=60.0, show_default=True, help="Radius of that circle [m]."
    )
    return place(radius(command))


def rain_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of rain and thresholds, shared by `site` and `batch`."""
    options = [
        click.option(
            "--storm",
            "storms",
            multiple=True,
            metavar="10yr-24h",
            help="Return period and duration, taken from --rainfall. `site` takes several: the first is the one of "
            "the checks and tables, the others can be switched to on the map.",
        ),
        click.option("--rain-in", type=float, help="Rain depth [in], in place of a storm."),
        click.option("--rain-mm", type=float, help="Rain depth [mm], in place of a storm."),
        click.option("--capture-in", type=float, help="Rain that storage is sized for [in], in place of the storm."),
        click.option("--capture-mm", type=float, help="The same [mm]."),
        click.option("--criteria", "criteria_path", type=click.Path(path_type=Path), help="Thresholds (TOML)."),
        click.option("--profile", metavar="NAME", help="Published set of thresholds; see `screening criteria`."),
    ]
    for option in reversed(options):
        command = option(command)
    return command


def error_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of elevation error, shared by `site`, `batch` and `demo`."""
    number = click.option(
        "--realisations",
        type=click.IntRange(0, 10_000),
        metavar="N",
        help="Screen again N times under elevation error, to say which findings hold; 0 = do not.",
    )
    seed = click.option("--seed", type=click.IntRange(0, 2**32 - 1), metavar="N", help="Seed of those errors.")
    return number(seed(command))


def request_of(*, elevation: Path | None, at: str | None = None, **inputs: Any) -> SiteRequest:
    """Make a request of the options of inputs and place."""
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


def criteria_of(path: Path | None, profile: str | None) -> Criteria:
    """Read thresholds, or take those of a profile."""
    from screening.schema.criteria import Criteria, choose_profile

    if path:
        from screening.inputs import read_criteria

        return read_criteria(path, profile=profile)
    return choose_profile(profile) if profile else Criteria()


def with_error(criteria: Criteria, realisations: int | None, seed: int | None) -> Criteria:
    """Put what was asked for on the command line before what the criteria say."""
    asked = {"n_realisations": realisations, "error_seed": seed}
    return criteria.replaced(**{name: value for name, value in asked.items() if value is not None})


def with_capture(criteria: Criteria, depth_in: float | None, depth_mm: float | None) -> Criteria:
    """Size storage for a typed rain, where one was typed."""
    depth = _depth_mm(depth_in, depth_mm, mend="give --capture-in or --capture-mm, not both")
    return criteria if depth is None else criteria.replaced(capture_rain_mm=depth)


def _depth_mm(depth_in: float | None, depth_mm: float | None, *, mend: str) -> float | None:
    from screening.errors import InputError
    from screening.units import MM_PER_IN

    if depth_in is not None and depth_mm is not None:
        raise InputError("Two rain depths were given", mend=mend)
    return depth_in * MM_PER_IN if depth_in is not None else depth_mm


def rains_of(
    rainfall: Path | None,
    storms: Sequence[str],
    rain_in: float | None,
    rain_mm: float | None,
    criteria: Criteria,
) -> tuple[Rain, ...]:
    """Settle the rains from what was typed: the one of the checks first, each once."""
    from screening.site.chosen_rain import choose_rain

    depth = _depth_mm(rain_in, rain_mm, mend="give --rain-in or --rain-mm, not both")
    first, *further = dict.fromkeys(storms) or (None,)
    return (
        choose_rain(rainfall=rainfall, storm=first, rain_mm=depth, criteria=criteria),
        *(choose_rain(rainfall=rainfall, storm=storm, criteria=criteria) for storm in further),
    )


def say(text: str, *, err: bool = False) -> None:
    """Print text whose control characters do nothing."""
    click.echo(plain_lines(text), err=err)


@contextmanager
def clear_errors() -> Iterator[None]:
    """Turn a refusal into its message and exit code 2; anything else is a bug and keeps its traceback."""
    try:
        yield
    except ScreeningError as error:
        say(f"Error: {error}", err=True)
        sys.exit(2)


@contextmanager
def show_steps(n_steps: int) -> Iterator[Callable[[str], None]]:
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
