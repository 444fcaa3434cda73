"""One site from request to findings: read, grow the window until it closes, screen, write."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from screening.grid import Bounds
from screening.models import Block, BlockResult, Rain, SiteRequest, WindowView
from screening.schema.criteria import Criteria
from screening.site.chosen_rain import choose_rain
from screening.site.provenance import provenance_of
from screening.site.window import WINDOW_CELLS_MAX, close_window
from screening.units import UnitSystem

if TYPE_CHECKING:
    import geopandas as gpd

    from screening.findings.simulation import RunCalls
    from screening.inputs import Site

Progress = Callable[[str], None]

_SEVERAL_START_M = 240.0
"""Reach that the window of several lots begins with: nearly always they need as much, and two looks are spared."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Screening:
    """A finished screening: the findings, its table, and its map as a notebook shows it.

    Parameters
    ----------
    result
        All findings.
    title
        What the map and the summary are headed with.
    units
        `metric` or `us`, for what is shown; tables stay in SI.
    provenance
        Where the inputs came from, as `result.json` keeps it.
    """

    result: BlockResult
    title: str = "Site screening"
    units: UnitSystem = "metric"
    provenance: dict[str, Any] = field(default_factory=dict)

    @property
    def summary(self) -> gpd.GeoDataFrame:
        """One row a lot: see `columns.SUMMARY_COLUMNS`; its sentences are in these units."""
        from screening.report import lots_told

        return lots_told(self.result, self.units)

    def map_html(self) -> str:
        """Build the map page, one file that needs no network."""
        from screening.report import build_map

        return build_map(self.result, units=self.units, title=self.title, provenance=self.provenance)

    def write(self, out_dir: str | Path, **options: Any) -> dict[str, Path]:
        """Write map, tables, result and criteria to a folder; options go to `report.write_outputs`."""
        from screening.report import write_outputs

        return write_outputs(
            self.result,
            Path(out_dir),
            units=self.units,
            title=self.title,
            provenance=self.provenance,
            **options,
        )

    def _repr_html_(self) -> str:
        from screening.report import map_iframe
        from screening.report.map.notebook import lots_html

        return map_iframe(self.map_html()) + lots_html(self.result, units=self.units)


def screen_site(
    request: SiteRequest,
    *,
    criteria: Criteria | None = None,
    rain: Rain | None = None,
    further_rains: tuple[Rain, ...] = (),
    title: str = "",
    units: UnitSystem = "metric",
    progress: Progress = lambda step: None,
    n_workers: int = 1,
) -> Screening:
    """Screen the lots of one site.

    Parameters
    ----------
    request
        Files and lots.
    criteria
        Thresholds; the neutral set by default.
    rain
        The storm's rain, from `choose_rain`; the criteria's assumed depth by default.
    further_rains
        Of storms to compare on the map, and at garages; verdicts and tables are the first one's.
    title
        Heading of the outputs; the names of the lots by default.
    units
        How numbers are shown.
    progress
        Called with the name of each step as it begins.
    n_workers
        Processes that share the realisations of elevation error: see `workers.run_calls`. Each takes about as much
        memory as a screening, so a large window gets fewer.

    Returns
    -------
    The findings, ready to show or write.

    Raises
    ------
    InputError
        An input cannot be used; the message says which, and how to mend it.

    Examples
    --------
    >>> from screening import demo_request, screen_site
    >>> screening = screen_site(demo_request())  # doctest: +SKIP
    >>> screening.write("out")  # doctest: +SKIP
    """
    from screening.inputs import open_site

    criteria = criteria or Criteria()
    progress("reading the inputs")
    site = open_site(request)
    rain = rain or choose_rain(criteria=criteria)
    result = screen_lots(
        site, criteria=criteria, rain=rain, further_rains=further_rains, progress=progress, n_workers=n_workers
    )
    return Screening(
        result=result, title=title or title_of(result.block), units=units, provenance=provenance_of(site, result.block)
    )


def screen_lots(
    site: Site,
    *,
    criteria: Criteria,
    rain: Rain,
    further_rains: tuple[Rain, ...] = (),
    progress: Progress = lambda step: None,
    n_workers: int = 1,
    in_brief: bool = False,
) -> BlockResult:
    """Close the window of the lots of an opened site, and screen them.

    Parameters
    ----------
    site
        From `inputs.open_site`.
    criteria, rain, further_rains, progress, n_workers
        As for `screen_site`.
    in_brief
        As for `pipeline.screen_block`.
    """
    progress("closing the window")
    block = close_site(site, criteria=criteria)
    return screen_closed(
        block,
        criteria=criteria,
        rain=rain,
        further_rains=further_rains,
        progress=progress,
        n_workers=n_workers,
        in_brief=in_brief,
    )


def close_site(
    site: Site,
    *,
    criteria: Criteria,
    extent: Bounds | None = None,
    cells_max: int = WINDOW_CELLS_MAX,
    look: Callable[[Block], WindowView] | None = None,
) -> Block:
    """Close the window of an opened site: see `close_window`; with its coarser elevation, if it has one.

    Parameters
    ----------
    site
        From `inputs.open_site`.
    extent
        What the window has to hold; that of the lots by default.
    criteria, cells_max, look
        As for `close_window`.
    """
    from screening.inputs import add_context_elevation, load_block

    west, south, east, north = (float(value) for value in site.lots.total_bounds)
    context = site.context_elevation
    start_m = _SEVERAL_START_M if len(site.lots) > 1 else 0.0
    block = close_window(
        extent or (west, south, east, north),
        partial(load_block, site),
        criteria=criteria,
        has_context=context is not None,
        start_m=start_m,
        cells_max=cells_max,
        look=look,
    )
    return block if context is None else add_context_elevation(block, context, criteria=criteria)


def screen_closed(
    block: Block,
    *,
    criteria: Criteria,
    rain: Rain,
    further_rains: tuple[Rain, ...] = (),
    progress: Progress = lambda step: None,
    n_workers: int = 1,
    in_brief: bool = False,
) -> BlockResult:
    """Screen a block whose window is closed, its realisations of elevation error shared out to processes.

    Parameters
    ----------
    block
        From `close_site`.
    criteria, rain, further_rains, progress, n_workers
        As for `screen_site`.
    in_brief
        As for `pipeline.screen_block`.
    """
    from screening.pipeline import screen_block

    progress("routing and screening")
    return screen_block(
        block,
        criteria=criteria,
        rain=rain,
        further_rains=further_rains,
        run_calls=runner_of(block, n_workers=n_workers, progress=progress),
        in_brief=in_brief,
    )


def runner_of(block: Block, *, n_workers: int, progress: Progress) -> RunCalls:
    """Share the realisations of elevation error of a block out to as many processes as memory allows."""
    from screening.workers import run_calls

    return partial(
        run_calls,
        n_workers=min(n_workers, max(WINDOW_CELLS_MAX // block.elev_m.size, 1)),
        on_done=lambda n_done, n: progress(f"screening under elevation error, {n_done} of {n}"),
    )


def title_of(block: Block) -> str:
    """Name a screening after its lots."""
    ids = block.lots["lot_id"].tolist()
    return f"Lot {ids[0]}" if len(ids) == 1 else f"{len(ids)} lots"
