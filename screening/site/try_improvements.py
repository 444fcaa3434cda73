"""Improvements tried out on one site: read, grow the window until it closes with and without them, compare, write."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from screening.grid import Bounds
from screening.models import Block, Improvements, Rain, SiteRequest, Trial
from screening.schema.criteria import Criteria
from screening.site.chosen_rain import choose_rain
from screening.site.provenance import provenance_of
from screening.site.screen import Progress, Screening, close_site, runner_of, title_of
from screening.units import UnitSystem

if TYPE_CHECKING:
    import geopandas as gpd

    from screening.inputs import Site


@dataclass(frozen=True, kw_only=True, eq=False)
class ImprovementScreening:
    """A finished trial: the site before and after improvements, what changes, and how to write it.

    Parameters
    ----------
    trial
        Both results and their comparison.
    title
        Heading of the outputs.
    units
        `metric` or `us`, for what is shown; tables stay in SI.
    provenance
        Where the inputs came from.
    """

    trial: Trial
    title: str = "Site screening"
    units: UnitSystem = "metric"
    provenance: dict[str, Any] = field(default_factory=dict)

    @property
    def before(self) -> Screening:
        """The site as it is."""
        return Screening(result=self.trial.before, title=self.title, units=self.units, provenance=self.provenance)

    @property
    def after(self) -> Screening:
        """The site with the improvements."""
        return Screening(
            result=self.trial.after,
            title=f"{self.title}, with the improvements",
            units=self.units,
            provenance=self.provenance,
        )

    def page_html(self) -> str:
        """Build the page of before and after, one file that needs no network."""
        from screening.report.improvements.page import build_improvements_page

        return build_improvements_page(self.trial, units=self.units, title=self.title)

    def write(self, out_dir: str | Path, **options: Any) -> dict[str, Path]:
        """Write the page and tables of the comparison, and the site before and after in folders of their own."""
        from screening.report.improvements.outputs import write_improvement_outputs

        return write_improvement_outputs(
            self.trial, Path(out_dir), units=self.units, title=self.title, provenance=self.provenance, **options
        )


def try_improvements(
    request: SiteRequest,
    improvements: str | Path | Improvements,
    *,
    criteria: Criteria | None = None,
    rain: Rain | None = None,
    further_rains: tuple[Rain, ...] = (),
    title: str = "",
    units: UnitSystem = "metric",
    progress: Progress = lambda step: None,
    n_workers: int = 1,
) -> ImprovementScreening:
    """Screen the lots of one site before and after proposed improvements, on one window, and compare.

    Parameters
    ----------
    request, criteria, rain, further_rains, title, units, progress, n_workers
        As `site.screen_site` takes them.
    improvements
        The file of improvements, or improvements already read in the CRS of the site's grid.

    Returns
    -------
    Both results and what changes, ready to show or write.

    Raises
    ------
    InputError
        An input or an improvement cannot be used; the message says which, and how to mend it.
    """
    from screening.improvements.trial import look_with_improvements, try_on_block
    from screening.inputs import open_site, read_improvements

    criteria = criteria or Criteria()
    progress("reading the inputs")
    site = open_site(request)
    crs = site.elevation.grid.crs
    read = improvements if isinstance(improvements, Improvements) else read_improvements(improvements, crs=crs)
    progress("closing the window")
    see = partial(look_with_improvements, improvements=read, criteria=criteria)
    block = close_site(site, criteria=criteria, extent=_extent(site, read), look=see)
    progress("routing and screening")
    run_calls = runner_of(block, n_workers=n_workers, progress=progress)
    settled = rain or choose_rain(criteria=criteria)
    lots = _lots_around(site, block)
    trial = try_on_block(
        block, read, criteria=criteria, rain=settled, further_rains=further_rains, lots=lots, run_calls=run_calls
    )
    provenance = provenance_of(site, block)
    if not isinstance(improvements, Improvements):
        provenance["files"] = {**provenance["files"], "improvements": Path(str(improvements)).name}
    return ImprovementScreening(trial=trial, title=title or title_of(block), units=units, provenance=provenance)


def _extent(site: Site, improvements: Improvements) -> Bounds:
    """Extent of the lots with the improvements, cut to the elevation: the window grows from there."""
    import numpy as np

    boxes = [site.lots.total_bounds, *(improvement.geometry.bounds for improvement in improvements.items)]
    west, south = np.min([box[:2] for box in boxes], axis=0)
    east, north = np.max([box[2:] for box in boxes], axis=0)
    # Improvements far off are refused later, by name; they shall not make the window large first.
    edge = site.elevation.grid.bounds
    return (
        float(max(west, edge[0])),
        float(max(south, edge[1])),
        float(min(east, edge[2])),
        float(min(north, edge[3])),
    )


def _lots_around(site: Site, block: Block) -> gpd.GeoDataFrame:
    """Every lot that meets the window, the chosen ones first."""
    import geopandas as gpd
    import pandas as pd

    from screening.inputs import load_lots

    request = site.request
    if not request.lots:
        return block.lots
    crs, field_name = block.grid.crs, request.lot_id_field
    around, _ = load_lots(request.lots, crs=crs, bounds=block.grid.bounds, id_field=field_name)
    others = around[~around["lot_id"].isin(set(block.lots["lot_id"]))]
    both = pd.concat([block.lots[["lot_id", "geometry"]], others[["lot_id", "geometry"]]], ignore_index=True)
    return gpd.GeoDataFrame(both, geometry="geometry", crs=block.grid.crs)
