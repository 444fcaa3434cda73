"""One row a lot: what was found on it, and which lot to visit first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from screening.findings.main_finding import LotState, find_main
from screening.flow.catchments import lot_cells
from screening.models import (
    F64,
    I32,
    Block,
    Depressions,
    FlowField,
    InfiltrationZones,
    PeakFlows,
    Storm,
    Surface,
    Verdict,
)
from screening.schema.codes.storm import PeakCode
from screening.schema.codes.structures import ExposureKind
from screening.schema.codes.verdicts import Confidence, Outcome
from screening.schema.columns import SUMMARY_COLUMNS, declared
from screening.schema.columns.joined import split_ids
from screening.schema.criteria import Criteria, profile_words

if TYPE_CHECKING:
    import geopandas as gpd


def measure_off_lot(block: Block, flow: FlowField, catchments: pd.DataFrame) -> pd.Series:
    """Measure the ground outside each lot that drains onto it.

    Returns
    -------
    Area [m2] in the order of the lots: contributing area less the lot's own cells with elevation.
    """
    lot = block.lot_index
    known = (lot > 0) & ~np.isnan(flow.filled_elev_m)
    own = np.bincount(lot[known], minlength=len(block.lots) + 1)[1:] * flow.grid.cell_area_m2
    return pd.Series(catchments["contributing_area_m2"].to_numpy(float) - own)


def measure_lots(
    block: Block,
    surface: Surface,
    flow: FlowField,
    storm: Storm,
    *,
    runoff_through_m3: F64,
    catchments: gpd.GeoDataFrame,
    off_lot_area_m2: pd.Series,
    zones: InfiltrationZones,
) -> pd.DataFrame:
    """Measure what checks of lots are made of: areas, slope, runoff and infiltration.

    Parameters
    ----------
    block, surface, flow, storm
        Of the same window.
    runoff_through_m3
        Runoff that drains through each cell [m3].
    catchments, off_lot_area_m2
        Ground that drains across each lot, and the part of it outside the lot, in the order of the lots.
    zones
        Ground that may take water.

    Returns
    -------
    One row a lot in the order of `block.lots`: `lot_id`, and those of `columns.SUMMARY_COLUMNS` that are measured.
    """
    of_catchments = ("contributing_area_m2", "context_area_m2", "edge_contaminated")
    columns: dict[str, NDArray[Any]] = {"lot_id": block.lots["lot_id"].to_numpy(object)}
    columns |= {name: catchments[name].to_numpy() for name in of_catchments}
    columns["off_lot_area_m2"] = off_lot_area_m2.to_numpy(float)
    columns |= _measure_terrain(block, surface, flow, storm, runoff_through_m3)
    columns |= {name: zones.by_lot[name].to_numpy() for name in zones.by_lot.columns if name != "lot_id"}
    return pd.DataFrame(columns)


def summarize_lots(
    block: Block,
    depressions: Depressions,
    storm: Storm,
    *,
    lots: pd.DataFrame,
    arriving: PeakFlows,
    structures: gpd.GeoDataFrame,
    driveways: gpd.GeoDataFrame,
    storage: pd.DataFrame,
    verdicts: Sequence[Verdict],
    criteria: Criteria,
) -> gpd.GeoDataFrame:
    """Gather the findings of each lot and put the lots in visiting order.

    A lot's score adds up the points of its verdicts, which are its trace; lots of one score keep the order of their
    file. Structures are ranked by the same points.

    Returns
    -------
    `columns.SUMMARY_COLUMNS` and lot polygons, in the order of `block.lots`.
    """
    verdicts_of: dict[str, list[Verdict]] = {}
    for verdict in verdicts:
        verdicts_of.setdefault(verdict.lot_id, []).append(verdict)
    spots_of = _low_spots_by_lot(depressions, block.lots["lot_id"].tolist())
    structures_of, driveways_of = structures["lot_id"].to_numpy(), driveways["lot_id"].to_numpy()
    found, main = [], []
    for number, lot_id in enumerate(block.lots["lot_id"]):
        own = verdicts_of.get(lot_id, [])
        own_structures = structures.iloc[np.flatnonzero(structures_of == lot_id)]
        own_spots = depressions.table.iloc[spots_of.get(lot_id, [])]
        own_driveways = driveways.iloc[np.flatnonzero(driveways_of == lot_id)]
        found.append(_gather(own, own_structures, own_driveways, own_spots, hsg=_soil_shares(block, number)))
        state = LotState(
            has_elevation=lots["assessed_frac"].iloc[number] > 0,
            n_low_spots=len(own_spots),
            low_spots_within_error=all(Confidence(code).is_within_error for code in own_spots["confidence_code"]),
            structure_rank=dict(zip(own_structures["structure_id"], own_structures["exposure_rank"], strict=True)),
        )
        main.append(find_main(own, state))
    parts = (lots, storage.drop(columns="lot_id"), pd.DataFrame(found), pd.DataFrame(main), _peaks_of(arriving))
    table = pd.concat([part.reset_index(drop=True) for part in parts], axis="columns")
    table["storm"], table["rain_mm"] = storm.rain.label, storm.rain.depth_mm
    table["criteria_profile"] = profile_words(criteria)
    table["visit_rank"] = _visit_rank(table["visit_score"].to_numpy(float))
    return declared(table, SUMMARY_COLUMNS, geometry=block.lots.geometry, crs=block.grid.crs)


@dataclass(frozen=True, kw_only=True)
class _LotFindings:
    """What verdicts, structures, driveways, low spots and soils say of one lot: columns of the summary."""

    n_flags: int
    visit_score: float
    n_not_assessed: int
    n_structures: int
    n_structures_flagged: int
    worst_structure_id: str
    exposure: str
    n_driveways: int
    n_driveways_to_structure: int
    n_low_spots: int
    low_spot_depth_max_m: float
    low_spot_volume_m3: float
    hsg: str


def _gather(
    own: Sequence[Verdict],
    structures: gpd.GeoDataFrame,
    driveways: gpd.GeoDataFrame,
    low_spots: gpd.GeoDataFrame,
    *,
    hsg: str,
) -> _LotFindings:
    flagged = structures["exposure"].isin([ExposureKind.PONDING, ExposureKind.RUN_ON])
    worst = None if structures.empty else structures.loc[structures["exposure_rank"].idxmin()]
    return _LotFindings(
        n_flags=sum(verdict.is_flag for verdict in own),
        visit_score=sum(verdict.points for verdict in own),
        n_not_assessed=sum(verdict.outcome is Outcome.NOT_ASSESSED for verdict in own),
        n_structures=len(structures),
        n_structures_flagged=int(flagged.sum()),
        worst_structure_id="" if worst is None else worst["structure_id"],
        exposure="" if worst is None else worst["exposure"],
        n_driveways=len(driveways),
        n_driveways_to_structure=int(driveways["is_flagged"].sum()),
        n_low_spots=len(low_spots),
        low_spot_depth_max_m=0.0 if low_spots.empty else float(low_spots["depth_max_m"].max()),
        low_spot_volume_m3=0.0 if low_spots.empty else float(low_spots["volume_m3"].sum()),
        hsg=hsg,
    )


def _peaks_of(arriving: PeakFlows) -> pd.DataFrame:
    """Peaks onto the lots, in their order; where nothing arrives the peak is 0, not unknown."""
    time_h = arriving.time_of_concentration_h
    is_dry = np.isnan(time_h)
    return pd.DataFrame(
        {
            "tc_min": 60.0 * time_h,
            "peak_onto_l_s": np.where(is_dry, 0.0, 1000.0 * arriving.peak_m3_s),
            "peak_code": [
                str(PeakCode.NOTHING_ARRIVES if dry else code) for dry, code in zip(is_dry, arriving.code, strict=True)
            ],
            "peak_limit": arriving.limit,
        }
    )


def _measure_terrain(
    block: Block, surface: Surface, flow: FlowField, storm: Storm, runoff_through_m3: F64
) -> dict[str, F64]:
    """Areas, slope and runoff of each lot from its cells."""
    from screening.kernels.accumulate import zone_upstream_total

    grid, n_lots = flow.grid, len(block.lots)
    starts, cells = lot_cells(block)
    lot = np.repeat(np.arange(n_lots), np.diff(starts))
    slope, number = (values.ravel()[cells] for values in (surface.slope_pct, storm.curve_number))
    is_known, has_slope, has_number = ~np.isnan(flow.filled_elev_m.ravel()[cells]), ~np.isnan(slope), ~np.isnan(number)

    def total(values: Any) -> F64:
        return np.bincount(lot, weights=values, minlength=n_lots).astype(np.float64)

    n_cells, n_known = total(None), total(is_known)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean_slope = total(np.where(has_slope, slope, 0.0)) / total(has_slope)
        curve_number = total(np.where(has_number, number, 0.0)) / total(has_number)
        runoff = total(storm.runoff_mm.ravel()[cells])
        mean_runoff, cover = runoff / n_known, n_known / n_cells
        interpolated = total(surface.is_interpolated.ravel()[cells]) / n_cells
    through = zone_upstream_total(flow.receiver, runoff_through_m3, starts, cells)
    own_m3 = runoff * grid.cell_area_m2 / 1000.0
    return {
        "area_m2": block.lots.geometry.area.to_numpy(float),
        "assessed_frac": cover,
        "interpolated_frac": interpolated,
        "slope_pct": mean_slope,
        "curve_number": curve_number,
        "runoff_mm": mean_runoff,
        "runoff_m3": own_m3,
        "run_on_m3": np.maximum(through - own_m3, 0.0),
    }


def _low_spots_by_lot(depressions: Depressions, known: list[str]) -> dict[str, list[int]]:
    """Rows of the outermost low spots that touch each lot."""
    rows: dict[str, list[int]] = {}
    table = depressions.table
    for row in np.flatnonzero(((table["lot_id"] != "") & (table["part_of"] == "")).to_numpy(bool)).tolist():
        for lot_id in split_ids(table["lot_id"].iloc[row], known):
            rows.setdefault(lot_id, []).append(row)
    return rows


def _soil_shares(block: Block, number: int) -> str:
    if "soils" not in block.given:
        return "unknown"
    lot = block.lots.geometry.iloc[number]
    shares: dict[str, float] = {}
    for shape, hsg in zip(block.soils.geometry, block.soils["hsg"], strict=True):
        if shape.intersects(lot):
            shares[hsg] = shares.get(hsg, 0.0) + shape.intersection(lot).area / lot.area
    rest = 1.0 - sum(shares.values())
    if rest > 0.005:
        shares["unknown"] = shares.get("unknown", 0.0) + rest
    ranked = sorted((item for item in shares.items() if item[1] >= 0.005), key=lambda item: (-item[1], item[0]))
    return ", ".join(f"{hsg} {share:.0%}" for hsg, share in ranked)


def _visit_rank(score: F64) -> I32:
    order = np.argsort(-score, kind="stable")
    rank = np.empty(score.size, np.int32)
    rank[order] = np.arange(1, score.size + 1)
    return rank
