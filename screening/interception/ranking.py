"""Lines across a driveway tried and put in order: what bypasses each, whether it has an outfall, how long it is."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property, partial
from heapq import heapify, heappop, heappush

from screening.interception.candidate_lines import CandidateLine, search_lines
from screening.interception.flagged_driveways import FlaggedDriveway
from screening.interception.water import arrives_at_walls, intercept
from screening.models import Block, Surface
from screening.outfall.daylight import DrainOutlet
from screening.outfall.laid_channel import LaidChannel, lay_channel
from screening.schema.criteria import Criteria

_RUNOFF = slice(0, 1)
_Order = tuple[int, float, float, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class LineTrial:
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
        has_outfall = self.outlet.line is not None
        return self._order(has_outfall, self.outlet.length_m if has_outfall else 0.0, criteria)

    def first_order(self, criteria: Criteria) -> _Order:
        """Give the best that `order` may be, whatever outfall there is."""
        return self._order(True, 0.0, criteria)

    def _order(self, has_outfall: bool, pipe_m: float, criteria: Criteria) -> _Order:
        is_enough = 1.0 - self.bypass_frac >= criteria.interception.interception_kept_min_frac
        if has_outfall and self.bypass_frac <= criteria.interception.interception_bypass_max_frac:
            tier = 0
        else:
            tier = 3 if not is_enough else 1 if has_outfall else 2
        return tier, round(self.bypass_frac, 2), round(self.laid.length_m + pipe_m, 2), round(self.from_wall_m, 2)


def search_trials(
    drive: FlaggedDriveway, block: Block, surface: Surface, criteria: Criteria
) -> tuple[list[LineTrial], int]:
    """Try the lines across a driveway; the best of each place and then the next best, in order, and how many."""
    arriving = float(arrives_at_walls(drive.water, amounts=_RUNOFF)[0])
    trials = []
    for line in search_lines(drive.shape, drive.cells, block.grid, surface.elev_m, wall=drive.wall, criteria=criteria):
        _, past = intercept(drive.water, line.cells, amounts=_RUNOFF)
        laid = lay_channel(line.line, block.grid, surface.elev_m, criteria=criteria)
        find = partial(drive.outfalls.find, laid, line.cells, criteria=criteria)
        from_wall = float(line.line.distance(drive.wall))
        trials.append(
            LineTrial(
                line=line, bypass_frac=float(past[0]) / arriving, from_wall_m=from_wall, laid=laid, find_outlet=find
            )
        )
    in_order = _in_order(trials, criteria)
    n_places = len({trial.line.place for trial in trials})
    seen: list[LineTrial] = []
    kept: list[LineTrial] = []
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


def _is_apart(one: LineTrial, other: LineTrial, criteria: Criteria) -> bool:
    return float(one.line.line.distance(other.line.line)) >= criteria.interception.interception_end_m


def _in_order(trials: list[LineTrial], criteria: Criteria) -> Iterator[LineTrial]:
    """Give trials as if sorted by `order`, the outfall found only of those that may come next."""
    waiting = [(trial.first_order(criteria), place, False) for place, trial in enumerate(trials)]
    heapify(waiting)
    while waiting:
        _, place, is_known = heappop(waiting)
        if is_known:
            yield trials[place]
        else:
            heappush(waiting, (trials[place].order(criteria), place, True))
