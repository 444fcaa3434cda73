"""Improvements tried out on a block: screened before, changed, screened after, compared."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from screening.findings.simulation import RunCalls
from screening.improvements.apply import apply_improvements
from screening.improvements.comparison import compare_improvements
from screening.models import Block, Improvements, Rain, Trial, WindowView
from screening.pipeline import look_around, screen_block
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    import geopandas as gpd


def try_on_block(
    block: Block,
    improvements: Improvements,
    *,
    criteria: Criteria,
    rain: Rain,
    further_rains: Iterable[Rain] = (),
    lots: gpd.GeoDataFrame | None = None,
    run_calls: RunCalls = map,
) -> Trial:
    """Screen a block before and after improvements, and compare.

    Parameters
    ----------
    block
        The window as it is; it is not changed.
    improvements
        In the CRS of its grid.
    criteria, rain, further_rains, run_calls
        As `pipeline.screen_block` takes them; what is compared is the first rain.
    lots
        `lot_id` and polygons of every lot that meets the window; the block's own by default.

    Returns
    -------
    Both results, and what changes.

    Raises
    ------
    InputError
        The improvements do not fit the block; see `improvements.apply_improvements`.
    """
    changed = apply_improvements(block, improvements, criteria=criteria)
    further = tuple(further_rains)
    before, after = (
        screen_block(each, criteria=criteria, rain=rain, further_rains=further, run_calls=run_calls)
        for each in (block, changed)
    )
    around = block.lots if lots is None else lots
    return Trial(
        before=before,
        after=after,
        improvements=improvements,
        comparison=compare_improvements(before, after, improvements, lots=around),
    )


def look_with_improvements(block: Block, improvements: Improvements, *, criteria: Criteria) -> WindowView:
    """Look at what a window shows of its lots both before and after improvements: it has to close for both."""
    views = [
        look_around(each, criteria=criteria)
        for each in (block, apply_improvements(block, improvements, criteria=criteria))
    ]
    return WindowView(
        open_sides=views[0].open_sides | views[1].open_sides,
        level_m=np.concatenate([view.level_m for view in views]),
        area_m2=np.concatenate([view.area_m2 for view in views]),
        above=np.concatenate([view.above for view in views]),
    )
