"""How much of a driveway's water meets a wall on its lot first, and what drains to it."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import pandas as pd

from screening.flow.dispersive import context_area_of, fraction_reaching
from screening.models import F64, I32, I64, Block, Bool, FlowField, Surface, freeze
from screening.schema.criteria import Criteria


@dataclass(frozen=True, kw_only=True, eq=False)
class DrivewayMeasures:
    """What the ground says of the driveways on chosen lots, by row of `Block.own_driveways`.

    Parameters
    ----------
    table
        `driveway_id`, `lot_id`, `to_structure_frac` (NaN = no elevation on it), `is_flagged`, `edge_contaminated`.
    area_m2
        Of their polygons, float64.
    starts, cells
        Their cells outside of structures, flat indices: those of driveway `i` are `cells[starts[i]:starts[i + 1]]`.
    """

    table: pd.DataFrame
    area_m2: F64
    starts: I64
    cells: I64

    def __post_init__(self) -> None:
        freeze(self.area_m2, self.starts, self.cells)

    def with_water(self, surface: Surface, flow: FlowField, runoff_through_m3: F64) -> pd.DataFrame:
        """Give the table with area, slope, and what drains to each driveway; NaN where it has no elevation."""
        from screening.kernels.accumulate import zone_upstream_total

        own = _known_cells(self.starts, self.cells, flow)
        n_cells = np.array([cells.size for cells in own], np.int64)
        is_known, slope = n_cells > 0, surface.slope_pct.ravel()
        area = zone_upstream_total(flow.receiver, flow.contributing_area_m2.ravel(), self.starts, self.cells)
        runoff = zone_upstream_total(flow.receiver, runoff_through_m3, self.starts, self.cells)
        beyond = context_area_of(flow, self.starts, self.cells)
        return self.table.assign(
            area_m2=self.area_m2,
            slope_pct=[float(np.nanmean(slope[cells])) if cells.size else np.nan for cells in own],
            contributing_area_m2=np.where(is_known, area, np.nan),
            context_area_m2=np.where(is_known, beyond, np.nan),
            run_on_area_m2=np.where(is_known, area - n_cells * flow.grid.cell_area_m2, np.nan),
            runoff_m3=np.where(is_known, runoff, np.nan),
        )


def measure_driveways(block: Block, surface: Surface, flow: FlowField, *, criteria: Criteria) -> DrivewayMeasures:
    """Measure the share of each driveway's water that meets a wall on its lot first.

    Water is followed from each driveway cell, spreading by the flow's dispersive method, until it touches a wall or
    leaves the lot; the share that meets a wall first is the mean over the driveway. A driveway is a few cells wide,
    so its own cells beyond the lot line (the apron) count as its lot.

    Parameters
    ----------
    block, surface, flow
        Of the same window.
    criteria
        `driveway_to_structure_flag_frac`.
    """
    from screening.kernels.zones import ragged_from_labels

    driveways = block.own_driveways
    # A roof over a driveway (a carport, a garage drawn over it) sheds as a roof.
    label = np.where(surface.structure_index > 0, np.int32(0), block.own_driveway_index)
    starts, cells = ragged_from_labels(label, len(driveways))
    own = _known_cells(starts, cells, flow)
    # Followed on the whole window: not where there is no driveway.
    share = _share_to_wall(block, surface, flow, label).ravel() if cells.size else np.empty(0, np.float64)
    to_wall = np.array([float(share[each].mean()) if each.size else np.nan for each in own], np.float64)
    is_cut = flow.edge_sides.ravel() != 0
    table = pd.DataFrame(
        {
            "driveway_id": driveways["driveway_id"],
            "lot_id": driveways["lot_id"],
            "to_structure_frac": to_wall,
            "is_flagged": to_wall > criteria.driveways.driveway_to_structure_flag_frac,
            "edge_contaminated": np.array([bool(is_cut[each].any()) for each in own], np.bool_),
        }
    )
    area = driveways.geometry.area.to_numpy(float).copy()
    return DrivewayMeasures(table=table, area_m2=area, starts=starts, cells=cells)


def _known_cells(starts: I64, cells: I64, flow: FlowField) -> list[I64]:
    """Cells with elevation of each driveway."""
    parts = (cells[first:end] for first, end in itertools.pairwise(starts.tolist()))
    return [own[flow.receiver[own] >= 0] for own in parts]


def _share_to_wall(block: Block, surface: Surface, flow: FlowField, driveway: I32) -> F64:
    """Share of the water of each cell that touches a wall before it leaves its lot."""
    row_of = {lot_id: row for row, lot_id in enumerate(block.lots["lot_id"], start=1)}
    lot_of_driveway = np.array([0, *(row_of[lot_id] for lot_id in block.own_driveways["lot_id"])], np.int32)
    lot = np.where(driveway > 0, lot_of_driveway[driveway], block.lot_index).astype(np.int32)
    return fraction_reaching(flow, _beside_walls(surface), pen=lot)


def _beside_walls(surface: Surface) -> Bool:
    from scipy import ndimage

    walls = surface.structure_index > 0
    beside: Bool = ndimage.binary_dilation(walls, np.ones((3, 3), bool)) & ~walls
    return beside
