"""Where a line across a driveway keeps water from walls: lines found by search, compared and ranked."""

from __future__ import annotations

from typing import Any

import numpy as np

from screening.interception.drain_trial import check_line, lay_drain
from screening.interception.flagged_driveways import FlaggedDriveway, amounts_of, flagged_driveways
from screening.interception.ranking import LineTrial, search_trials
from screening.interception.rows import DrainPipe, LineId, LineRow, LineWater, OutletRow, tabulate_lines
from screening.interception.water import arrives_at_walls, intercept
from screening.models import (
    Block,
    Concentration,
    InfiltrationZones,
    Interception,
    Storm,
    Surface,
    TerrainFindings,
    Verdict,
)
from screening.outfall.daylight import DrainOutlet
from screening.schema.criteria import Criteria
from screening.storm.peaks import peaks_of_catchments
from screening.structures.walls import Walls


def find_interception(
    block: Block,
    surface: Surface,
    walls: Walls,
    terrain: TerrainFindings,
    storm: Storm,
    concentration: Concentration,
    zones: InfiltrationZones,
    *,
    criteria: Criteria,
) -> Interception:
    """Search lines across each flagged driveway that keep its water from walls, and try a trench drain in the best.

    A line captures what comes to its cells over the driveway; what bypasses it still comes over the driveway to walls
    on its lot. Without the line there arrives what bypasses it and what of the captured would have come to walls.
    First come lines that little bypasses it and that have an outfall by gravity; see `ranking.LineTrial.order`.

    Parameters
    ----------
    block, surface, walls, terrain, storm, concentration, zones
        Of the same window.
    criteria
        The `interception_`, `daylight_`, `trench_drain_` and `outlet_pipe_` measures and thresholds.

    Returns
    -------
    Lines, the outfalls of their drains, and checks. Peaks are those of the ground whose water is counted, over the
    longest time of concentration of the cells of the line, or of the driveway for what arrives at walls.
    """
    amounts = amounts_of(block, surface, terrain, storm)
    lines: list[LineRow] = []
    outlets: list[OutletRow] = []
    verdicts: list[Verdict] = []
    for drive in flagged_driveways(
        block=block, surface=surface, walls=walls, terrain=terrain, zones=zones, amounts=amounts, criteria=criteria
    ):
        trials, n_tried = search_trials(drive, block, surface, criteria)
        waters = _waters(drive, trials, n_tried, storm, concentration, criteria)
        for rank, (trial, water) in enumerate(zip(trials, waters, strict=True), start=1):
            line = LineId(
                line_id=f"IL-{len(lines) + 1}", driveway_id=drive.driveway_id, lot_id=drive.lot_id, line_rank=rank
            )
            is_tried = rank <= criteria.interception.interception_drains_tried
            drain, found = lay_drain(trial.laid, trial.outlet, water, is_tried=is_tried, criteria=criteria)
            lines.append(LineRow(line=line, water=water, drain=drain, shape=trial.line.line))
            verdicts.extend(check_line(line, trial.outlet, water, found, criteria=criteria))
            if trial.outlet.line is not None:
                outlets.append(OutletRow(line=line, pipe=_pipe_of(trial.outlet), shape=trial.outlet.line))
    return tabulate_lines(lines, outlets, tuple(verdicts), block.grid)


def no_interception(block: Block) -> Interception:
    """Stand in for `find_interception` where nobody asks for lines across driveways."""
    return tabulate_lines([], [], (), block.grid)


def _waters(
    drive: FlaggedDriveway,
    trials: list[LineTrial],
    n_tried: int,
    storm: Storm,
    concentration: Concentration,
    criteria: Criteria,
) -> list[LineWater]:
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
    peaks = peaks_of_catchments(
        totals[:, 1], hours, totals[:, 2], totals[:, 0], totals[:, 3], storm=storm, criteria=criteria
    )
    l_s = np.where(totals[:, 1] > 0.0, peaks.peak_m3_s * 1000.0, 0.0)
    n = len(trials)
    return [
        LineWater(
            structure_id=drive.structure_id,
            place=trial.line.place,
            runs=trial.line.runs,
            from_wall_m=trial.from_wall_m,
            arriving_m3=without[0],
            arriving_l_s=l_s[0],
            captured_m3=totals[1 + at, 0],
            captured_l_s=l_s[1 + at],
            captured_area_m2=totals[1 + at, 1],
            intercepted_m3=without[0] - totals[1 + n + at, 0],
            bypass_m3=totals[1 + n + at, 0],
            bypass_l_s=l_s[1 + n + at],
            bypass_frac=trial.bypass_frac,
            n_lines_tried=n_tried,
            peak_code=peaks.code[1 + at],
            peak_limit=float(peaks.limit[1 + at]),
            edge_contaminated=drive.edge_contaminated,
        )
        for at, trial in enumerate(trials)
    ]


def _longest(hours: Any) -> float:
    return float(np.nanmax(hours)) if hours.size and not np.isnan(hours).all() else float("nan")


def _pipe_of(outlet: DrainOutlet) -> DrainPipe:
    return DrainPipe(
        kind=outlet.kind,
        zone_id=outlet.zone_id,
        length_m=outlet.length_m,
        start_elev_m=outlet.start_elev_m,
        end_elev_m=outlet.end_elev_m,
        fall_available_m=outlet.fall_available_m,
        fall_needed_m=outlet.fall_needed_m,
    )
