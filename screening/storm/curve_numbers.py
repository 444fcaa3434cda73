"""Runoff by curve number: numbers of the ground's cover and soil, composites, and the depth that runs off."""

from __future__ import annotations

from functools import partial

import numpy as np
from numpy.typing import ArrayLike, NDArray

from screening.grid import rasterize
from screening.models import F32, Block, GroundCover, Surface, note
from screening.schema.codes.inputs import SoilGroup
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from screening.schema.covers import CN_IMPERVIOUS, CODE_OF, COVERS, GROUPS, open_space_code

UNCONNECTED_MOST_FRAC = 0.30
"""Total impervious share from which unconnected ground counts as connected: TR-55 (1986) figure 2-4 is for less."""


def runoff_depth_mm(rain_mm: ArrayLike, curve_number: ArrayLike, *, ratio: float = 0.2) -> NDArray[np.float64]:
    """Compute runoff depth by curve number; none runs off below the initial abstraction.

    Parameters
    ----------
    rain_mm
        Rain depth [mm].
    curve_number
        0-100, broadcast against the rain.
    ratio
        Initial abstraction as a share of the potential retention.

    Returns
    -------
    Runoff [mm], float64.

    References
    ----------
    TR-55 (1986), equations 2-1 to 2-4, with S = 1000/CN - 10 inches.

    Examples
    --------
    >>> float(runoff_depth_mm(4.0 * 25.4, 75.0).round(1))
    42.3
    """
    from screening.kernels.runoff import curve_number_runoff

    return curve_number_runoff(np.asarray(rain_mm, np.float64), np.asarray(curve_number, np.float64), ratio)


def composite_curve_number(
    pervious: ArrayLike, impervious_frac: ArrayLike, *, unconnected_ratio: ArrayLike = 0.0
) -> NDArray[np.float64]:
    """Put one curve number to ground that is impervious in part.

    Parameters
    ----------
    pervious
        Curve number of the pervious part.
    impervious_frac
        Share of the ground that is impervious, 0-1.
    unconnected_ratio
        Share of the impervious ground whose water runs over pervious ground before it reaches a drain, 0-1. From
        30 % impervious on it counts as connected: so much water does not soak in on the way.

    Returns
    -------
    Curve number, float64, not rounded.

    References
    ----------
    TR-55 (1986), figures 2-3 and 2-4, equations of appendix F, from memory.

    Examples
    --------
    >>> float(composite_curve_number(74, 0.25, unconnected_ratio=0.5))
    78.5
    """
    share, apart = np.asarray(impervious_frac, np.float64), np.asarray(unconnected_ratio, np.float64)
    relief = np.where(share < UNCONNECTED_MOST_FRAC, 1.0 - 0.5 * apart, 1.0)
    pervious = np.asarray(pervious, np.float64)
    composite: NDArray[np.float64] = pervious + share * (CN_IMPERVIOUS - pervious) * relief
    return composite


def curve_number_table(lawn_condition: str) -> F32:
    """Curve numbers by cover code and group code (0 = unknown, counted as D: an upper bound of runoff).

    Returns
    -------
    float32 (n_covers + 1, 5); row 0 is open space in the stated condition.
    """
    lawn = COVERS[open_space_code(lawn_condition) - 1]
    rows = []
    for cover in (lawn, *COVERS):
        pervious = lawn.curve_number if cover.impervious_frac else cover.curve_number
        numbers = composite_curve_number(pervious, cover.impervious_frac)
        rows.append([numbers[-1], *numbers])
    return np.array(rows, np.float32)


def describe_cover(block: Block, surface: Surface, *, lawn_condition: str) -> GroundCover:
    """Give each cell its cover and its soil group.

    Roofs, driveways and roads lie over the land cover; where that is missing or says nothing, the ground is open
    space in the stated condition. Where roofs, driveways and roads are all mapped, the developed classes of a land
    cover raster are such open space too: their impervious share is what is mapped.

    Parameters
    ----------
    block, surface
        Of the same window.
    lawn_condition
        poor, fair or good.

    Returns
    -------
    Cover and group by cell.
    """
    grid, lawn = block.grid, open_space_code(lawn_condition)
    cover = np.full(grid.shape, lawn, np.uint8)
    assumed = partial(note, NoteKind.ASSUMED, NoteSubject.RUNOFF)
    notes = [assumed(NoteCode.OPEN_SPACE_ASSUMED, condition=lawn_condition)]
    if block.cover is not None:
        said = np.where(block.cover > 0, block.cover, lawn).astype(np.uint8)
        developed = [code for code, kind in enumerate(COVERS, start=1) if kind.impervious_frac]
        is_developed = np.isin(said, developed)
        is_mapped = {"structures", "driveways", "roads"} <= block.given
        if is_developed.any():
            notes.append(assumed(NoteCode.DEVELOPED_OPEN if is_mapped else NoteCode.DEVELOPED_TWICE))
        cover = np.where(is_developed & is_mapped, lawn, said).astype(np.uint8)
    for name, shapes in (("driveway", block.driveways.geometry), ("paved", block.roads.geometry)):
        cover[rasterize(grid, list(shapes), [1] * len(shapes)) > 0] = CODE_OF[name]
    cover[surface.structure_index > 0] = CODE_OF["roof"]
    groups = [0, *(_group_code(hsg) for hsg in block.soils["hsg"])]
    soil = rasterize(grid, list(block.soils.geometry), range(1, len(block.soils) + 1))
    return GroundCover(grid=grid, cover=cover, group=np.array(groups, np.uint8)[soil], notes=tuple(notes))


def curve_numbers(ground_cover: GroundCover, *, lawn_condition: str) -> F32:
    """Curve number of each cell, float32."""
    table = curve_number_table(lawn_condition)
    numbers: F32 = table[ground_cover.cover, ground_cover.group]
    return numbers


def depends_on_soil(ground_cover: GroundCover) -> NDArray[np.bool_]:
    """Mark the cells whose curve number differs between soil groups."""
    depends = np.array([True, *(len(set(cover.curve_number)) > 1 for cover in COVERS)])
    marked: NDArray[np.bool_] = depends[ground_cover.cover]
    return marked


def _group_code(hsg: str) -> int:
    """An undrained dual group (A/D, B/D, C/D) counts as D: NEH 630 chapter 7."""
    group = SoilGroup(hsg)
    return 0 if group is SoilGroup.UNKNOWN else GROUPS.index(group.undrained) + 1
