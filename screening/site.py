"""One site from request to findings: read, grow the window until it closes, screen, write."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.criteria import Criteria
from screening.errors import InputError
from screening.grid import Bounds
from screening.models import (
    EAST_SIDE,
    NORTH_SIDE,
    SOUTH_SIDE,
    WEST_SIDE,
    Block,
    BlockResult,
    Note,
    NoteKind,
    Rain,
    SiteRequest,
    WindowView,
)
from screening.units import UnitSystem

if TYPE_CHECKING:
    import geopandas as gpd

    from screening.inputs import Site

DEFAULT_STORM = "10yr-24h"
WINDOW_CELLS_MAX = 10_000_000
"""Largest window that is grown to: about 300 bytes a cell at the peak of a screening, so 3 GB."""

_SIDE_NAMES = {NORTH_SIDE: "north", EAST_SIDE: "east", SOUTH_SIDE: "south", WEST_SIDE: "west"}

Progress = Callable[[str], None]


@dataclass(frozen=True, eq=False)
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
        """One row a lot: see `columns.SUMMARY_COLUMNS`."""
        return self.result.summary

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

        return map_iframe(self.map_html())


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
        Processes that share the realisations of elevation error: see `workers.spread_calls`. Each takes about as much
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
    return Screening(result, title or _title(result.block), units, _provenance(request, result.block))


def screen_lots(
    site: Site,
    *,
    criteria: Criteria,
    rain: Rain,
    further_rains: tuple[Rain, ...] = (),
    progress: Progress = lambda step: None,
    n_workers: int = 1,
    start_m: float = 0.0,
    in_brief: bool = False,
) -> BlockResult:
    """Close the window of the lots of an opened site, and screen them.

    Parameters
    ----------
    site
        From `inputs.open_site`.
    criteria, rain, further_rains, progress, n_workers
        As for `screen_site`.
    start_m
        Reach that the window begins with, where that is more than the criteria's: see `close_window`.
    in_brief
        As for `pipeline.screen_block`.
    """
    from screening.inputs import add_context_elevation, load_block
    from screening.pipeline import screen_block
    from screening.workers import spread_calls

    progress("closing the window")
    west, south, east, north = (float(value) for value in site.lots.total_bounds)
    context = site.context_elevation
    lots, load = (west, south, east, north), partial(load_block, site)
    block = close_window(lots, load, criteria=criteria, has_context=context is not None, start_m=start_m)
    if context is not None:
        block = add_context_elevation(block, context, criteria=criteria)
    progress("routing and screening")
    spread = partial(
        spread_calls,
        n_workers=min(n_workers, max(WINDOW_CELLS_MAX // block.elev_m.size, 1)),
        on_done=lambda n_done, n: progress(f"screening under elevation error, {n_done} of {n}"),
    )
    return screen_block(
        block, criteria=criteria, rain=rain, further_rains=further_rains, spread=spread, in_brief=in_brief
    )


def choose_rain(
    *,
    rainfall: Path | None = None,
    storm: str | None = None,
    rain_mm: float | None = None,
    criteria: Criteria,
) -> Rain:
    """Settle the rain of a screening from what was given.

    Parameters
    ----------
    rainfall, storm
        A point precipitation table, and a storm in it such as `10yr-24h`, which is also the default.
    rain_mm
        A typed depth instead [mm]; with a table its return period as a rain of 24 hours is known.
    criteria
        `assumed_rain_mm`, where nothing was given.

    Returns
    -------
    The rain, marked as assumed where it was not asked for.

    Raises
    ------
    InputError
        Both or neither can be used.
    """
    from screening.inputs import read_rainfall
    from screening.rainfall_tables import rain_of_depth, rain_of_storm

    if rain_mm is not None:
        if storm is not None:
            raise InputError("Both a storm and a rain depth were given", mend="give --storm, or --rain-in or --rain-mm")
        if not 0 < rain_mm <= 2000:
            raise InputError(
                "The rain depth cannot be used", got=f"{rain_mm:g} mm", expected="more than 0, up to 2000 mm"
            )
        return rain_of_depth(rain_mm, read_rainfall(rainfall) if rainfall is not None else None)
    if rainfall is not None:
        rain = rain_of_storm(read_rainfall(rainfall), storm or DEFAULT_STORM)
        return rain if storm else dataclasses.replace(rain, is_assumed=True)
    if storm is not None:
        raise InputError(
            "A storm was given without a rainfall table",
            got=storm,
            mend="add --rainfall FILE, or give --rain-in or --rain-mm",
        )
    depth = criteria.assumed_rain_mm
    return Rain(depth, "assumed depth", "criteria, assumed_rain_mm", is_assumed=True)


def close_window(
    lots: Bounds,
    load: Callable[[Bounds], Block],
    *,
    criteria: Criteria,
    has_context: bool = False,
    start_m: float = 0.0,
) -> Block:
    """Grow the window from the lots until it hides nothing that matters to them, or to the stated limit.

    It grows on the sides from which unseen water may reach a lot, until every catchment closes. Then it looks once
    further on all sides: ground beyond may hold up the water that leaves, or send over water that seemed to leave
    elsewhere. If levels or contributing areas on the lots change, the wider window stays and the search goes on.
    So a lot is screened alike alone and among others, as far as the look reaches.

    With a coarser elevation around, a side that stays open grows no farther than `context_window_m`, unless the look
    shows that the levels on the lots are not settled: what lies beyond is then left to the coarser elevation.

    Parameters
    ----------
    lots
        Extent of the lots [m].
    load
        Makes the block of a window, cut to where there is elevation.
    criteria
        `window_margin_m`, `window_look_m`, `window_limit_m`, `context_window_m`.
    has_context
        Whether a coarser elevation supplies what a side that stays open would hide.
    start_m
        Reach to begin with where it is more than `window_margin_m`: a block of many lots nearly always needs more, and
        what a window shows beyond what is needed changes nothing.

    Returns
    -------
    The block; where the window did not close, a note names the sides.
    """
    from screening.pipeline import look_around

    limit = criteria.window_limit_m
    reach = dict.fromkeys(_SIDE_NAMES, min(max(criteria.window_margin_m, start_m), limit))
    block = load(_widen(lots, reach))
    view = look_around(block, criteria=criteria)
    while True:
        can_grow = sum(side for side in _SIDE_NAMES if not block.data_sides & side and reach[side] < limit)
        still_open = view.open_sides & can_grow
        if has_context:
            still_open &= sum(side for side in _SIDE_NAMES if reach[side] < criteria.context_window_m)
        least = 0.0 if still_open else criteria.window_look_m
        most = min(limit, criteria.context_window_m) if has_context and still_open else limit
        further = {
            side: min(max(reach[side] * 2.0, least), most) for side in _SIDE_NAMES if side & (still_open or can_grow)
        }
        too_large = _cells(_widen(lots, reach | further), block) > WINDOW_CELLS_MAX
        if not further or too_large:
            return _note_open_sides(block, view.open_sides, reach, too_large=too_large, has_context=has_context)
        wider = load(_widen(lots, reach | further))
        wider_view = look_around(wider, criteria=criteria)
        by_area = not (has_context and view.open_sides)
        if not still_open and _shows_the_same(view, wider_view, by_area=by_area):
            return _note_open_sides(block, view.open_sides, reach, has_context=has_context)
        block, view, reach = wider, wider_view, reach | further


def _shows_the_same(view: WindowView, wider: WindowView, *, by_area: bool) -> bool:
    same_levels = np.array_equal(view.level_m, wider.level_m, equal_nan=True)
    if not by_area:
        return same_levels
    return same_levels and np.array_equal(view.area_m2, wider.area_m2) and np.array_equal(view.above, wider.above)


def _widen(bounds: Bounds, reach: dict[int, float]) -> Bounds:
    west, south, east, north = bounds
    return (
        west - reach[WEST_SIDE],
        south - reach[SOUTH_SIDE],
        east + reach[EAST_SIDE],
        north + reach[NORTH_SIDE],
    )


def _cells(bounds: Bounds, block: Block) -> float:
    west, south, east, north = bounds
    return (east - west) * (north - south) / block.grid.cell_area_m2


def _note_open_sides(
    block: Block, still_open: int, reach: dict[int, float], *, too_large: bool = False, has_context: bool
) -> Block:
    if not still_open:
        return block
    at_data_end = [name for side, name in _SIDE_NAMES.items() if still_open & side & block.data_sides]
    at_limit = [name for side, name in _SIDE_NAMES.items() if still_open & side & ~block.data_sides]
    texts = []
    if at_data_end:
        texts.append(f"the elevation ends to the {', '.join(at_data_end)}")
    if at_limit:
        farthest = max(reach[side] for side in _SIDE_NAMES if still_open & side & ~block.data_sides)
        limit = f"{WINDOW_CELLS_MAX:,} cells" if too_large else f"{farthest:.0f} m"
        texts.append(f"the window reached its limit of {limit} to the {', '.join(at_limit)}")
    what = "water from beyond may reach a lot, so areas and volumes there are lower bounds"
    if has_context:
        what = "what comes from beyond is taken from the coarser elevation"
    text = f"{' and '.join(texts)}: {what}"
    kind: NoteKind = "assumed" if has_context else "caution"
    return dataclasses.replace(block, notes=(*block.notes, Note(kind, "window", text[0].upper() + text[1:])))


def _title(block: Block) -> str:
    ids = block.lots["lot_id"].tolist()
    return f"Lot {ids[0]}" if len(ids) == 1 else f"{len(ids)} lots"


def _provenance(request: SiteRequest, block: Block) -> dict[str, Any]:
    """Names of the files, not their folders: a result handed on says nothing of the machine it was made on."""
    files = {}
    for spec in dataclasses.fields(request):
        value = getattr(request, spec.name)
        if spec.name == "elevation" or (spec.name in (*_LAYERS, *_FURTHER_FILES) and value):
            files[spec.name] = Path(str(value)).name
    return {"files": files, "crs": block.grid.crs, "cell_m": block.grid.cell_m}


_LAYERS = (
    "lots", "structures", "driveways", "roads", "soils", "drains", "wells", "septic", "barriers", "downspouts", "doors",
    "wetlands", "utilities", "trees",
)  # fmt: skip


_FURTHER_FILES = ("impervious", "land_cover", "context_elevation")


def samples_dir() -> Path:
    """Find the sample neighbourhood, beside the package in a checkout or inside it when installed.

    Raises
    ------
    InputError
        It is in neither place.
    """
    package = Path(__file__).resolve().parent
    for folder in (package / "data_samples", package.parent / "data_samples"):
        if (folder / "elevation.tif").is_file():
            return folder
    raise InputError(
        "The sample data are missing", got=str(package), mend="install the package again, or run from a clone"
    )


def demo_request() -> SiteRequest:
    """Ask for all lots of the sample neighbourhood."""
    folder = samples_dir()
    files = {name: folder / f"{name}.geojson" for name in _LAYERS}
    layers: dict[str, Any] = {name: str(path) for name, path in files.items() if path.is_file()}
    return SiteRequest(elevation=folder / "elevation.tif", **layers)
