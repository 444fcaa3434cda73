"""Culverts and pipes as ways under the ground, swales and ditches as cuts along their line."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

import numpy as np

from screening.grid import cells_along
from screening.models import (
    EAST_SIDE,
    F32,
    F64,
    GAP_SIDE,
    I32,
    I64,
    NORTH_SIDE,
    SOUTH_SIDE,
    WEST_SIDE,
    Block,
    Bool,
    Conduits,
    Note,
)
from screening.schema.criteria import Criteria
from screening.terrain.earthworks import Change, measure_change

_OPEN = re.compile(r"\b(swales?|ditch(es)?|(open )?channels?|gutters?)\b")
"""Words for what lies open along its line; every other drain is taken as a pipe."""


class _Site(NamedTuple):
    """What drains are laid in: the ground, and what they have changed of it so far."""

    block: Block
    ground_m: F32
    opened_m: F32
    structure_index: I32
    snap_m: float


class _End(NamedTuple):
    """An end of a pipe: its cell, or why it has none."""

    cell: int
    sides: int = 0
    """Bits of the sides of the window it lies beyond, or of a gap."""
    problem: str = ""


class _Pipe(NamedTuple):
    """A pipe as laid on the grid."""

    name: str
    inlet: int
    outlet: int
    crest_m: float


def open_drains(
    block: Block, ground_m: F32, structure_index: I32, *, criteria: Criteria
) -> tuple[F32, Conduits, list[Change], list[Note]]:
    """Cut swales and ditches along their line, and lay culverts and pipes from inlet to outlet under the ground.

    The ends of both are moved to the lowest open ground within `drain_snap_m`, on their own side of the middle, where
    a drain meets the bed it drains. A swale is cut its depth below the ground all along, else straight between its
    inverts or the ground at its ends. A pipe leaves the ground as it is: water enters at its upper end once it stands
    as high as the invert, or as the ground there where none is given or the ground is higher, and comes out at its
    lower end. It is open and never full.

    Parameters
    ----------
    block
        `drains` with their kinds and inverts.
    ground_m
        Ground with barriers, float32 [m]; it stays as it is.
    structure_index
        Row of `block.structures` + 1 where a structure stands, else 0, int32.
    criteria
        `drain_snap_m`.

    Returns
    -------
    Ground with cuts [m]; the pipes; what was cut; notes.
    """
    site = _Site(block, ground_m, ground_m.copy(), structure_index, criteria.terrain.drain_snap_m)
    is_open = block.drains["kind"].map(lambda kind: bool(_OPEN.search(kind))).astype(bool)
    changes: list[Change] = []
    notes: list[Note] = []
    for swale in block.drains[is_open].itertuples():
        change = _cut_swale(site, swale, notes)
        changes += [change] if change else []
    # Swales come first, so that a pipe takes the water of the one that leads to it.
    conduits = _lay_pipes(site, block.drains[~is_open].itertuples(), notes)
    return site.opened_m, conduits, changes, notes


def _lay_pipes(site: _Site, drains: Iterable[Any], notes: list[Note]) -> Conduits:
    fed: list[_End] = []
    found = [_lay_pipe(site, drain, fed, notes) for drain in drains]
    pipes = [pipe for pipe in found if pipe is not None]
    _note_shared_inlets(pipes, notes)
    return Conduits(
        name=tuple(pipe.name for pipe in pipes),
        inlet=np.array([pipe.inlet for pipe in pipes], np.int64),
        outlet=np.array([pipe.outlet for pipe in pipes], np.int64),
        crest_m=np.array([pipe.crest_m for pipe in pipes], np.float32),
        fed_cell=np.array([end.cell for end in fed], np.int64),
        fed_sides=np.array([end.sides for end in fed], np.uint8),
    )


def _lay_pipe(site: _Site, drain: Any, fed: list[_End], notes: list[Note]) -> _Pipe | None:
    """Find the ends of a pipe; None where it cannot be opened: then what comes out of it unseen is kept in `fed`."""
    import shapely

    name = f"{drain.kind} {drain.drain_id}"
    xy = shapely.get_coordinates(drain.geometry)[[0, -1]]
    inverts = [float(drain.invert_up_m), float(drain.invert_down_m)]
    if inverts[1] > inverts[0]:
        xy, inverts = xy[::-1], inverts[::-1]
        notes.append(_rises(name))
    grid, places = site.block.grid, _cells_of(site, xy)
    upper, lower = _find_end(site, places[0], places[1]), _find_end(site, places[1], places[0])
    if upper.sides & ~GAP_SIDE and lower.sides & ~GAP_SIDE:
        return None  # it only crosses beneath the window, if at all
    problems = [f"its {word} end {end.problem}" for word, end in (("upper", upper), ("lower", lower)) if end.problem]
    if not problems and upper.cell == lower.cell:
        problems = ["both ends fall into one cell; draw it from bank to bank, longer than a cell"]
    if problems:
        notes.append(Note("missing", "drains", f"{name} is not opened: {', '.join(problems)}"))
        fed += [_End(lower.cell, upper.sides)] if upper.sides and lower.cell >= 0 else []
        return None
    under = site.structure_index[tuple(cells_along(grid, drain.geometry, closed=False).T)]
    if (under > 0).any():
        text = f"{name} passes under {_name_structures(site, under)}: check that it does"
        notes.append(Note("caution", "drains", text))
    return _settle(site, name, [upper.cell, lower.cell], inverts, notes)


def _settle(site: _Site, name: str, ends: list[int], inverts: list[float], notes: list[Note]) -> _Pipe:
    """Find the level that water must reach to go through a pipe, and say what is odd about it."""
    ground = [float(site.opened_m.ravel()[cell]) for cell in ends]
    if np.isnan(inverts).all() and ground[1] > ground[0]:
        ends, ground = ends[::-1], ground[::-1]
        notes.append(_rises(name))
    _note_high_inverts(name, inverts, ground, notes)
    up_m, down_m = float(np.fmax(inverts[0], ground[0])), float(np.fmax(inverts[1], ground[1]))
    if round(down_m - up_m, 2) > 0:
        text = (
            f"{name}: water would have to stand at {down_m:.2f} m to come out at its lower end, above its upper end at "
            f"{up_m:.2f} m; check the inverts, or move its lower end to the bed it drains to"
        )
        notes.append(Note("caution", "drains", text))
    text = (
        f"{name} leads water under the ground, which stays as it is, and is taken as open and never full: water that "
        f"stands at {max(up_m, down_m):.2f} m at its upper end comes out at {down_m:.2f} m"
    )
    notes.append(Note("assumed", "drains", text))
    return _Pipe(name, ends[0], ends[1], max(up_m, down_m))


def _note_high_inverts(name: str, inverts: Sequence[float], ground: Sequence[float], notes: list[Note]) -> None:
    for word, invert, level in zip(("upper", "lower"), inverts, ground, strict=True):
        if round(invert - level, 2) > 0:
            text = f"{name}: its {word} invert lies {invert - level:.2f} m above the ground there: check both"
            notes.append(Note("caution", "drains", text))


def _rises(name: str) -> Note:
    text = f"{name} rises along its line: taken the other way round; check its direction, and its inverts if given"
    return Note("caution", "drains", text)


def _note_shared_inlets(pipes: list[_Pipe], notes: list[Note]) -> None:
    by_cell: dict[int, list[str]] = {}
    for pipe in pipes:
        by_cell.setdefault(pipe.inlet, []).append(pipe.name)
    for names in by_cell.values():
        if len(names) > 1:
            text = f"{', '.join(names)} begin in one cell: the one that comes out lowest takes all of its water"
            notes.append(Note("caution", "drains", text))


def _cut_swale(site: _Site, drain: Any, notes: list[Note]) -> Change | None:
    """Cut a swale in place along its line, but not where a structure stands."""
    name = f"{drain.kind} {drain.drain_id}"
    line = cells_along(site.block.grid, drain.geometry, closed=False)
    is_within = line.shape[0] > 0 and np.array_equal(line[[0, -1]], _ends_of(site, drain.geometry))
    cells = _snap_ends(site, line) if is_within else line
    if cells.shape[0] < 2 or np.isnan(site.ground_m[tuple(cells[[0, -1]].T)]).any():
        notes.append(Note("missing", "drains", f"{name} has an end without elevation in the window: not cut"))
        return None
    if not is_within and not drain.depth_m > 0 and np.isnan([drain.invert_up_m, drain.invert_down_m]).any():
        text = f"{name} runs out of the window without a depth or both inverts: not cut; give either"
        notes.append(Note("missing", "drains", text))
        return None
    share = np.linspace(0.0, 1.0, cells.shape[0]) if is_within else _share_along(site, drain.geometry, cells)
    at, bed = _bed(site, drain, name, cells, share, notes)
    structure = site.structure_index[at]
    if (structure > 0).any():
        text = f"{name} is cut up to {_name_structures(site, structure)} and not under it: check where it runs"
        notes.append(Note("caution", "drains", text))
    before, is_free = site.opened_m.copy(), structure == 0
    at, bed = (at[0][is_free], at[1][is_free]), bed[is_free]
    site.opened_m[at] = np.fmin(site.opened_m[at], bed)
    deepest = float(np.nanmax(site.ground_m[at] - bed, initial=0.0))
    notes.append(Note("assumed", "drains", f"{name} is cut open along its line, up to {deepest:.2f} m deep"))
    return measure_change(drain.kind, drain.drain_id, before, site.opened_m, at)


def _bed(site: _Site, drain: Any, name: str, cells: I64, share: F64, notes: list[Note]) -> tuple[tuple[I64, I64], F32]:
    """Level of a swale's bed along its cells, from its higher to its lower end."""
    ground = site.ground_m[tuple(cells.T)]
    given = float(drain.invert_up_m), float(drain.invert_down_m)
    ends = float(ground[0]), float(ground[-1])
    up, down = (level if invert != invert else invert for invert, level in zip(given, ends, strict=True))
    _note_high_inverts(name, given, ends, notes)
    if down > up:
        cells, ground, share = cells[::-1], ground[::-1], share[::-1]
        notes.append(_rises(name))
    bed: Any = up + (down - up) * share
    if drain.depth_m > 0:
        bed = np.minimum.accumulate(np.where(np.isnan(ground), np.inf, ground)) - np.float32(drain.depth_m)
    return (cells[:, 0], cells[:, 1]), bed.astype(np.float32)


def _share_along(site: _Site, line: Any, cells: I64) -> F64:
    """Share of the way from the first end of a line to its last at which each of its cells lies."""
    import shapely

    grid = site.block.grid
    x, y = grid.west_m + (cells[:, 1] + 0.5) * grid.cell_m, grid.north_m - (cells[:, 0] + 0.5) * grid.cell_m
    share: F64 = shapely.line_locate_point(line, shapely.points(x, y), normalized=True)
    return share


def _ends_of(site: _Site, line: Any) -> I64:
    import shapely

    return _cells_of(site, shapely.get_coordinates(line)[[0, -1]])


def _cells_of(site: _Site, xy: F64) -> I64:
    """Rows and columns of places, in the window or not."""
    grid = site.block.grid
    place = np.column_stack((grid.north_m - xy[:, 1], xy[:, 0] - grid.west_m)) / grid.cell_m
    cells: I64 = np.floor(place).astype(np.int64)
    return cells


def _find_end(site: _Site, place: I64, other: I64) -> _End:
    """Find the cell of an end of a pipe."""
    n_rows, n_cols = site.block.grid.shape
    sides = (
        (NORTH_SIDE if place[0] < 0 else 0)
        | (SOUTH_SIDE if place[0] >= n_rows else 0)
        | (WEST_SIDE if place[1] < 0 else 0)
        | (EAST_SIDE if place[1] >= n_cols else 0)
    )
    if sides:
        return _End(-1, sides, "lies beyond the window; elevation as far as there would show where it leads")
    lowest = _lowest_near(site, place, other)
    if lowest is not None:
        return _End(int(lowest[0] * n_cols + lowest[1]))
    structure = site.structure_index[place[0], place[1]]
    if structure > 0:
        inside = _name_structures(site, np.array([structure]))
        return _End(-1, 0, f"lies inside {inside}, with no open ground within {site.snap_m:g} m; end it outside")
    return _End(-1, GAP_SIDE, f"has no elevation within {site.snap_m:g} m; move it to where the ground is known")


def _lowest_near(site: _Site, place: I64, other: I64) -> I64 | None:
    """Lowest open cell within reach of an end and nearer to it than to the other end, or the end's own cell."""
    reach = site.snap_m / site.block.grid.cell_m * (1 + 1e-9)
    top, left = (int(max(at - int(reach), 0)) for at in place)
    window = slice(top, int(place[0]) + int(reach) + 1), slice(left, int(place[1]) + int(reach) + 1)
    level, structure = site.opened_m[window], site.structure_index[window]
    row, col = np.mgrid[top : top + level.shape[0], left : left + level.shape[1]]
    away = (row - place[0]) ** 2 + (col - place[1]) ** 2
    away_other = (row - other[0]) ** 2 + (col - other[1]) ** 2
    fits: Bool = (away <= reach**2) & ((away < away_other) | (away == 0)) & (structure == 0) & ~np.isnan(level)
    if not fits.any():
        return None
    best = np.lexsort((away[fits], level[fits]))[0]
    return np.array((row[fits][best], col[fits][best]))


def _snap_ends(site: _Site, cells: I64) -> I64:
    """Prolong a line's cells to the lowest ground near each end, if that is lower than the end itself."""
    head = _way_to_lowest(site, cells[0], cells[-1])[::-1]
    tail = _way_to_lowest(site, cells[-1], cells[0])
    return np.concatenate((head, cells, tail))


def _way_to_lowest(site: _Site, end: I64, other: I64) -> I64:
    """Cells from beside an end to the lowest cell within reach, in a straight line; none if the end is lowest."""
    lowest = _lowest_near(site, end, other)
    if lowest is None or not site.opened_m[tuple(lowest)] < site.opened_m[tuple(end)]:
        return np.empty((0, 2), np.int64)
    n_steps = int(np.abs(lowest - end).max())
    steps = np.arange(1, n_steps + 1)[:, np.newaxis] / n_steps
    way: I64 = np.rint(end + steps * (lowest - end)).astype(np.int64)
    return way


def _name_structures(site: _Site, structure_index: I32 | I64) -> str:
    rows = np.unique(structure_index[structure_index > 0]) - 1
    return "structure " + ", ".join(site.block.structures["structure_id"].iloc[rows].astype(str))
