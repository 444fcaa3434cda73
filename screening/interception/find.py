"""Where a line across a driveway keeps water from walls: lines found by search, compared and ranked."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property, partial
from heapq import heapify, heappop, heappush
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.interception.candidate_lines import CandidateLine, search_lines
from screening.interception.drain_trial import line_rows, line_verdicts
from screening.interception.water import DrivewayWater, arrives_at_walls, at_walls, gather_water, intercept
from screening.models import (
    F64,
    I32,
    I64,
    Block,
    Concentration,
    GroundFindings,
    InfiltrationZones,
    Interception,
    Storm,
    Surface,
    Verdict,
)
from screening.outfall.daylight import DrainOutlet
from screening.outfall.laid_channel import LaidChannel, lay_channel
from screening.outfall.outlet_ground import Outfalls, Surroundings, outfalls_around
from screening.schema.columns import DRAIN_OUTLET_COLUMNS, INTERCEPTION_COLUMNS, declared
from screening.schema.criteria import Criteria
from screening.storm.concentration import coefficient_areas_m2
from screening.storm.peaks import peaks_of_ground
from screening.structures.walls import Walls

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_RUNOFF = slice(0, 1)
_Order = tuple[int, float, float, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class _Drive:
    """A driveway that sheds to walls: its row, its own cells, its outline without what stands on it, what comes over
    it, the walls it sheds to, and where a drain in it may drain to.
    """

    row: dict[str, Any]
    cells: I64
    shape: BaseGeometry
    water: DrivewayWater
    structure_id: str
    wall: BaseGeometry
    outfalls_around: Outfalls
    edge_contaminated: bool


@dataclass(frozen=True, kw_only=True, eq=False)
class _Trial:
    """A line with what it leaves, how a channel lies under it, and where that drains to."""

    line: CandidateLine
    bypass_frac: float
    from_wall_m: float
    laid: LaidChannel
    find_outlet: Callable[[], DrainOutlet]

    @cached_property
    def outlet(self) -> DrainOutlet:
        """Where the channel drains to; to find it takes the most of all, so only where it matters."""
        return self.find_outlet()

    def order(self, criteria: Criteria) -> _Order:
        """What ranks it: little bypasses it and it has an outfall; it intercepts enough and has one; it intercepts
        enough; any other. Then by what bypasses it to a hundredth, length with its pipe, and nearness to the wall.
        """
        has_way = self.outlet.line is not None
        return self._order(has_way, self.outlet.length_m if has_way else 0.0, criteria)

    def first_order(self, criteria: Criteria) -> _Order:
        """Give the best that `order` may be, whatever outfall there is."""
        return self._order(True, 0.0, criteria)

    def _order(self, has_way: bool, pipe_m: float, criteria: Criteria) -> _Order:
        is_enough = 1.0 - self.bypass_frac >= criteria.interception.interception_kept_min_frac
        if has_way and self.bypass_frac <= criteria.interception.interception_bypass_max_frac:
            tier = 0
        else:
            tier = 3 if not is_enough else 1 if has_way else 2
        return tier, round(self.bypass_frac, 2), round(self.laid.length_m + pipe_m, 2), round(self.from_wall_m, 2)


def _in_order(trials: list[_Trial], criteria: Criteria) -> Iterator[_Trial]:
    """Give trials as if sorted by `order`, the outfall found only of those that may come next."""
    waiting = [(trial.first_order(criteria), place, False) for place, trial in enumerate(trials)]
    heapify(waiting)
    while waiting:
        _, place, is_known = heappop(waiting)
        if is_known:
            yield trials[place]
        else:
            heappush(waiting, (trials[place].order(criteria), place, True))


def find_interception(
    block: Block,
    surface: Surface,
    walls: Walls,
    ground: GroundFindings,
    storm: Storm,
    concentration: Concentration,
    zones: InfiltrationZones,
    *,
    criteria: Criteria,
) -> Interception:
    """Search lines across each flagged driveway that keep its water from walls, and try a trench drain in the best.

    A line captures what comes to its cells over the driveway; what bypasses it still comes over the driveway to walls
    on its lot. Without the line there arrives what bypasses it and what of the captured would have come to walls.
    First come lines that little bypasses it and that have an outfall by gravity; see `_Trial.order`.

    Parameters
    ----------
    block, surface, walls, ground, storm, concentration, zones
        Of the same window.
    criteria
        The `interception_`, `daylight_`, `trench_drain_` and `outlet_pipe_` measures and thresholds.

    Returns
    -------
    Lines, the outfalls of their drains, and checks. Peaks are those of the ground whose water is counted, over the
    longest time of concentration of the cells of the line, or of the driveway for what arrives at walls.
    """
    amounts = _amounts(block, surface, ground, storm)
    lines: list[dict[str, Any]] = []
    outlets: list[dict[str, Any]] = []
    verdicts: list[Verdict] = []
    for drive in _drives(
        block=block, surface=surface, walls=walls, ground=ground, zones=zones, amounts=amounts, criteria=criteria
    ):
        trials, n_tried = _search(drive, block, surface, criteria)
        rows = _rows(drive, trials, n_tried, storm, concentration, criteria)
        for rank, (trial, row) in enumerate(zip(trials, rows, strict=True), start=1):
            row |= {"line_id": f"IL-{len(lines) + 1}", "line_rank": rank, "geometry": trial.line.line}
            is_tried = rank <= criteria.interception.interception_drains_tried
            found = line_rows(trial.laid, trial.outlet, row, is_tried=is_tried, criteria=criteria)
            lines.append(row | found.columns)
            verdicts.extend(line_verdicts(found.rows, row))
            if trial.outlet.line is not None:
                outlets.append(_outlet_row(trial.outlet, row))
    return _interception(lines, outlets, tuple(verdicts), block)


def _interception(
    lines: list[dict[str, Any]], outlets: list[dict[str, Any]], verdicts: tuple[Verdict, ...], block: Block
) -> Interception:
    crs = block.grid.crs
    return Interception(
        declared(lines, INTERCEPTION_COLUMNS, geometry=[row["geometry"] for row in lines], crs=crs),
        declared(outlets, DRAIN_OUTLET_COLUMNS, geometry=[row["geometry"] for row in outlets], crs=crs),
        verdicts,
    )


def no_interception(block: Block) -> Interception:
    """Stand in for `find_interception` where nobody asks for lines across driveways."""
    return _interception([], [], (), block)


def _amounts(block: Block, surface: Surface, ground: GroundFindings, storm: Storm) -> F64:
    """Runoff [m3], area [m2], runoff coefficient and curve number times area [m2] of each cell, float64 (4, n_cells),
    with what comes in there from beyond the window.
    """
    cell_m2, beyond = block.grid.cell_area_m2, ground.flow.inflow
    is_known = ground.flow.receiver >= 0
    runoff = np.where(is_known, np.nan_to_num(storm.runoff_mm.ravel()), 0.0).astype(np.float64) * cell_m2 / 1000.0
    area = np.where(is_known, cell_m2, 0.0)
    number = np.where(is_known, np.nan_to_num(storm.curve_number.ravel()), 0.0).astype(np.float64) * cell_m2
    runoff[beyond.cell] += np.nan_to_num(beyond.runoff_m3)
    area[beyond.cell] += beyond.area_m2
    number[beyond.cell] += beyond.area_m2 * np.nan_to_num(beyond.curve_number)
    return np.stack([runoff, area, coefficient_areas_m2(surface, ground.flow, storm), number])


def _drives(
    block: Block,
    surface: Surface,
    walls: Walls,
    ground: GroundFindings,
    zones: InfiltrationZones,
    amounts: F64,
    criteria: Criteria,
) -> Iterator[_Drive]:
    """The flagged driveways to whose walls water comes in this storm."""
    import shapely
    from scipy import ndimage

    table = ground.driveways.reset_index(drop=True)
    flagged = np.flatnonzero(table["is_flagged"].to_numpy(bool)).tolist()
    if not flagged:
        return
    label = block.own_driveway_index.copy()
    label[surface.structure_index > 0] = 0
    around = Surroundings(block=block, surface=surface, ground=ground, zones=zones, criteria=criteria)
    pen = _pens(block, table["lot_id"].tolist(), label.ravel(), around.lot)
    is_wall = surface.structure_index > 0
    beside = (ndimage.binary_dilation(is_wall, np.ones((3, 3), bool)) & ~is_wall).ravel()
    lot_rows = {lot_id: row for row, lot_id in enumerate(block.lots["lot_id"])}
    for number in flagged:
        own = np.flatnonzero((label.ravel() == number + 1) & (ground.flow.receiver >= 0))
        lot_row = lot_rows[table["lot_id"].iloc[number]]
        in_pen = np.flatnonzero(pen == lot_row + 1)
        at_wall = in_pen[beside[in_pen]]
        if not own.size or not at_wall.size:
            continue
        water = gather_water(ground.flow, amounts, driveway=own, pen=in_pen, wall=at_wall)
        outline = table.geometry.iloc[number]
        standing = block.structures.geometry[block.structures.geometry.intersects(outline)]
        shape = outline.difference(shapely.union_all(list(standing)))
        wall = _main_wall(block, walls, water)
        if wall is None or shape.is_empty:
            continue
        ways = outfalls_around(around, lot_row, outline, own=own, walls=at_wall)
        cut = bool((ground.flow.edge_sides.ravel()[own] != 0).any())
        structure_id, wall_line = wall
        yield _Drive(
            row=table.iloc[number].to_dict(),
            cells=own,
            shape=shape,
            water=water,
            structure_id=structure_id,
            wall=wall_line,
            outfalls_around=ways,
            edge_contaminated=cut,
        )


def _pens(block: Block, lot_ids: list[str], label: I32, lot: I32) -> I32:
    """Row of the lot + 1 that each cell belongs to, a driveway's cells beyond the lot line to its own."""
    lots = block.lots["lot_id"].tolist()
    of_driveway = np.array([0, *(lots.index(lot_id) + 1 for lot_id in lot_ids)], np.int32)
    return np.where(label > 0, of_driveway[label], lot).astype(np.int32)


def _main_wall(block: Block, walls: Walls, water: DrivewayWater) -> tuple[str, BaseGeometry] | None:
    """Id of the structure at which most water arrives, and its side at which most of that does."""
    cells, amount = at_walls(water)
    is_side = walls.side >= 0
    ring, side = walls.zone_cells[is_side], walls.side[is_side]
    if cells.size == 0 or ring.size == 0 or amount.sum() <= 0.0:
        return None
    place = np.minimum(np.searchsorted(cells, ring), cells.size - 1)
    arriving = np.where(cells[place] == ring, amount[place], 0.0)
    by_side = np.bincount(side, weights=arriving, minlength=len(walls.sides))
    owner = np.array([one.structure for one in walls.sides])
    by_structure = np.bincount(owner, weights=by_side)
    main = int(by_structure.argmax())
    if by_structure[main] <= 0.0:
        return None
    best = int(np.where(owner == main, by_side, -1.0).argmax())
    return str(block.structures["structure_id"].iloc[main]), walls.sides[best].line


def _search(drive: _Drive, block: Block, surface: Surface, criteria: Criteria) -> tuple[list[_Trial], int]:
    """Try the lines across a driveway; the best of each place and then the next best, in order, and how many."""
    arriving = float(arrives_at_walls(drive.water, amounts=_RUNOFF)[0])
    trials = []
    for line in search_lines(drive.shape, drive.cells, block.grid, surface.elev_m, wall=drive.wall, criteria=criteria):
        _, past = intercept(drive.water, line.cells, amounts=_RUNOFF)
        laid = lay_channel(line.line, block.grid, surface.elev_m, criteria=criteria)
        find = partial(drive.outfalls_around.find, laid, line.cells, criteria=criteria)
        from_wall = float(line.line.distance(drive.wall))
        trials.append(
            _Trial(line=line, bypass_frac=float(past[0]) / arriving, from_wall_m=from_wall, laid=laid, find_outlet=find)
        )
    in_order = _in_order(trials, criteria)
    n_places = len({trial.line.place for trial in trials})
    seen: list[_Trial] = []
    kept: list[_Trial] = []
    while len(kept) < n_places:
        seen.append(next(in_order))
        if all(seen[-1].line.place != other.line.place for other in kept):
            kept.append(seen[-1])
    for trial in itertools.chain(seen, in_order):
        if len(kept) >= criteria.interception.interception_lines_kept:
            break
        if all(_is_apart(trial, one, criteria) for one in kept):
            kept.append(trial)
    return sorted(kept, key=lambda trial: trial.order(criteria)), len(trials)


def _is_apart(one: _Trial, other: _Trial, criteria: Criteria) -> bool:
    return float(one.line.line.distance(other.line.line)) >= criteria.interception.interception_end_m


def _rows(
    drive: _Drive,
    trials: list[_Trial],
    n_tried: int,
    storm: Storm,
    concentration: Concentration,
    criteria: Criteria,
) -> list[dict[str, Any]]:
    """What the lines that are kept take, in numbers."""
    times = concentration.time_of_concentration_h.ravel()
    without = arrives_at_walls(drive.water)
    taken, past = [], []
    for trial in trials:
        to_line, left = intercept(drive.water, trial.line.cells)
        taken.append(to_line.sum(axis=1))
        past.append(left)
    # What arrives, then what each line takes, then what bypasses each.
    totals = np.array([without, *taken, *past])
    at_wall_h = _longest(times[drive.cells])
    hours = np.array([at_wall_h, *(_longest(times[one.line.cells]) for one in trials), *[at_wall_h] * len(trials)])
    peaks = peaks_of_ground(
        totals[:, 1], hours, totals[:, 2], totals[:, 0], totals[:, 3], storm=storm, criteria=criteria
    )
    l_s = np.where(totals[:, 1] > 0.0, peaks.peak_m3_s * 1000.0, 0.0)
    n = len(trials)
    return [
        {
            "driveway_id": drive.row["driveway_id"],
            "lot_id": drive.row["lot_id"],
            "structure_id": drive.structure_id,
            "place": trial.line.place,
            "runs": trial.line.runs,
            "from_wall_m": trial.from_wall_m,
            "arriving_m3": without[0],
            "arriving_l_s": l_s[0],
            "captured_m3": totals[1 + at, 0],
            "captured_l_s": l_s[1 + at],
            "captured_area_m2": totals[1 + at, 1],
            "intercepted_m3": without[0] - totals[1 + n + at, 0],
            "bypass_m3": totals[1 + n + at, 0],
            "bypass_l_s": l_s[1 + n + at],
            "bypass_frac": trial.bypass_frac,
            "n_lines_tried": n_tried,
            "peak_why": peaks.why[1 + at],
            "edge_contaminated": drive.edge_contaminated,
        }
        for at, trial in enumerate(trials)
    ]


def _longest(hours: Any) -> float:
    return float(np.nanmax(hours)) if hours.size and not np.isnan(hours).all() else float("nan")


def _outlet_row(outlet: DrainOutlet, row: dict[str, Any]) -> dict[str, Any]:
    return {
        **{name: row[name] for name in ("line_id", "driveway_id", "lot_id", "line_rank")},
        "kind": outlet.kind,
        "runs_to": outlet.runs_to,
        "length_m": outlet.length_m,
        "start_elev_m": outlet.start_elev_m,
        "end_elev_m": outlet.end_elev_m,
        "fall_available_m": outlet.fall_available_m,
        "fall_needed_m": outlet.fall_needed_m,
        "geometry": outlet.line,
    }
