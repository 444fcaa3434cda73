"""The command `driveway`: where a driveway sheds its water, and how much of it reaches the garage."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from screening.commands.options import (
    clear_errors,
    criteria_of,
    input_options,
    place_options,
    rain_options,
    rains_of,
    request_of,
    say,
    show_steps,
    with_capture,
)

_STEPS = 4


@click.command()
@input_options
@place_options
@click.option("--impervious", metavar="FILE", help="Impervious polygons: those at a structure or street are driveways.")
@click.option("--driveway-id", "driveway_ids", multiple=True, help="Driveway to show; may be repeated. All if none.")
@rain_options
@click.option("--use", type=click.Choice(["walking", "cars", "trucks"]), help="Heaviest thing let onto the driveway.")
@click.option("--load-class", metavar="B125", help="Load class of the grate in mind.")
@click.option("--cut-depth-m", type=float, help="Deepest cut for a drain and its pipe [m].")
@click.option("--cut-depth-ft", type=float, help="The same [ft].")
@click.option("--overflow/--no-overflow", "has_overflow_path", default=None, help="Whether overflow has a safe way on.")
@click.option(
    "--permission/--no-permission",
    "has_discharge_permission",
    default=None,
    help="Whether the owner of the receiving place, and the law there, allow the discharge.",
)
@click.option("--units", type=click.Choice(["metric", "us"]), default="metric", show_default=True, help="Units shown.")
@click.option("--title", default="", help="Heading of the map and the summary.")
@click.option("--basemap-url", help="Online tile address with {z} {x} {y}; the map works without it.")
@click.option("--basemap-attribution", default="", help="Credit line of that base map.")
@click.option("--out", "out_dir", required=True, type=click.Path(path_type=Path), help="Folder for the outputs.")
def driveway(
    impervious: str | None,
    driveway_ids: tuple[str, ...],
    storms: tuple[str, ...],
    rain_in: float | None,
    rain_mm: float | None,
    capture_in: float | None,
    capture_mm: float | None,
    criteria_path: Path | None,
    profile: str | None,
    use: Any,
    load_class: str | None,
    cut_depth_m: float | None,
    cut_depth_ft: float | None,
    has_overflow_path: bool | None,
    has_discharge_permission: bool | None,
    units: Any,
    title: str,
    basemap_url: str | None,
    basemap_attribution: str,
    out_dir: Path,
    rainfall: Path | None,
    **inputs: Any,
) -> None:
    """Study driveways: where their water leaves them, over which edge, and what arrives at the garage."""
    from screening.hydraulics.drain_site import DrainSite
    from screening.report.driveway.outputs import only_driveways, write_driveway_outputs
    from screening.report.driveway.words import describe_driveways, heading_of
    from screening.site.screen import screen_site

    with clear_errors():
        request = request_of(impervious=impervious, **inputs)
        criteria = with_capture(criteria_of(criteria_path, profile), capture_in, capture_mm)
        place = DrainSite(
            cut_depth_m=_cut_depth_m(cut_depth_m, cut_depth_ft),
            use=use,
            load_class=load_class,
            has_overflow_path=has_overflow_path,
            has_discharge_permission=has_discharge_permission,
        )
        rain, *further = rains_of(rainfall, storms, rain_in, rain_mm, criteria)
        with show_steps(_STEPS) as progress:
            screening = screen_site(
                request,
                criteria=criteria,
                rain=rain,
                further_rains=tuple(further),
                title=title,
                units=units,
                progress=progress,
            )
            chosen = only_driveways(screening.result, driveway_ids)
            progress("writing the outputs")
            written = write_driveway_outputs(
                chosen,
                out_dir,
                place,
                units=units,
                title=title or heading_of(chosen),
                provenance=screening.provenance,
                basemap_url=basemap_url,
                basemap_attribution=basemap_attribution or None,
            )
        say(describe_driveways(chosen, place, units=units, title=title))
        for path in written.values():
            say(f"  {path}")


def _cut_depth_m(metres: float | None, feet: float | None) -> float | None:
    from screening.errors import InputError
    from screening.units import M_PER_FT

    if metres is not None and feet is not None:
        raise InputError("Two depths of the cut were given", mend="give --cut-depth-m or --cut-depth-ft, not both")
    return feet * M_PER_FT if feet is not None else metres
