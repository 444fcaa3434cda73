"""Verdict rows: what was compared with what, and how it came out. Unknown is never a pass."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import geopandas as gpd

from screening.models import Block, InfiltrationZones, Outcome, Verdict
from screening.schema.criteria import Criteria, sources
from screening.structures.fall_away import judge_fall
from screening.structures.wording import wall_words

if TYPE_CHECKING:
    import pandas as pd

WEIGHTS = {
    "pond_depth_full_m": "weight_standing_water",
    "contributing_area_m2": "weight_run_on",
    "fall_away_pct": "weight_fall_away",
    "to_structure_frac": "weight_driveway",
    "off_lot_area_m2": "weight_off_lot",
}
"""Criteria by the statistic of the checks that they weigh."""
_CUT = "unseen ground beyond the window may add to this"


def evaluate_checks(
    block: Block,
    *,
    catchments: pd.DataFrame,
    off_lot_area_m2: pd.Series,
    structures: gpd.GeoDataFrame,
    driveways: gpd.GeoDataFrame,
    zones: InfiltrationZones | None,
    criteria: Criteria,
) -> tuple[Verdict, ...]:
    """Compare what was found with the criteria, lot by lot.

    Parameters
    ----------
    block
        Its lots give the order, and its `given` layers what could be assessed.
    catchments, off_lot_area_m2
        Ground that drains across each lot, and the part of it outside the lot, in the order of the lots.
    structures, driveways, zones
        What the stages found; without zones their check is left out.
    criteria
        Thresholds and their sources, and the `weight_` of each kind of flag.

    Returns
    -------
    Rows by lot: the lot's own checks, then its structures', then its driveways'.
    """
    context = block.context_elevation
    cell_m = context.grid.cell_m if context is not None else float("nan")
    source = sources(criteria)
    verdicts: list[Verdict] = []
    rows_of = {name: _rows_by_lot(table) for name, table in (("structure", structures), ("driveway", driveways))}
    for number, lot_id in enumerate(block.lots["lot_id"]):
        cut = bool(catchments["edge_contaminated"].iloc[number])
        area = float(off_lot_area_m2.iloc[number])
        note = _area_note(area, float(catchments["context_area_m2"].iloc[number]), cell_m, cut=cut)
        verdicts.append(_off_lot(lot_id, area, cut, note, criteria, source))
        if zones is not None:
            verdicts.append(_infiltration(lot_id, zones, criteria, source))
        for row in rows_of["structure"].get(lot_id, []):
            verdicts.extend(_structure(row, cell_m, criteria, source))
        if "structures" not in block.given:
            verdicts.append(_not_given(lot_id, "structure", "Water does not stand against a structure"))
        for row in rows_of["driveway"].get(lot_id, []):
            verdicts.append(_driveway(row, criteria, source))
        if "driveways" not in block.given:
            verdicts.append(_not_given(lot_id, "driveway", "The driveway sheds away from walls"))
    return tuple(_weighed(verdict, criteria) for verdict in verdicts)


def _weighed(verdict: Verdict, criteria: Criteria) -> Verdict:
    weight = criteria.value(WEIGHTS[verdict.statistic]) if verdict.statistic in WEIGHTS else 1.0
    return verdict if weight == 1.0 else dataclasses.replace(verdict, weight=weight)


def _rows_by_lot(table: gpd.GeoDataFrame) -> dict[str, list[dict[str, Any]]]:
    """Rows as dictionaries, without their shapes."""
    by_lot: dict[str, list[dict[str, Any]]] = {}
    for row in table.drop(columns="geometry").to_dict("records"):
        by_lot.setdefault(row["lot_id"], []).append(row)
    return by_lot


def _outcome(value: float, passes: bool, *, lower_bound: bool = False) -> Outcome:
    """Judge a value; a lower bound can fail a limit, but not pass it."""
    if value != value or (passes and lower_bound):
        return "not assessed"
    return "passed" if passes else "failed"


def _area_note(area: float, beyond: float, cell_m: float, *, cut: bool, where: str = "") -> str:
    """What to know beside a contributing area: percent alone, so that it reads the same in every unit."""
    parts = [where] if where else []
    if beyond > 0:
        parts.append(f"{beyond / area:.0%} of it from coarser elevation beyond the window (cells of {cell_m:.3g} m)")
    if cut:
        parts.append(_CUT)
    return "; ".join(parts)


def _off_lot(lot_id: str, area: float, cut: bool, note: str, criteria: Criteria, source: Mapping[str, str]) -> Verdict:
    limit = criteria.findings.off_lot_area_flag_m2
    return Verdict(
        lot_id=lot_id,
        subject_kind="lot",
        subject_id=lot_id,
        check="Little ground outside the lot drains onto it",
        statistic="off_lot_area_m2",
        value=area,
        operator="<",
        threshold=limit,
        unit="m2",
        source=source["off_lot_area_flag_m2"],
        outcome=_outcome(area, area < limit, lower_bound=cut),
        note=note,
    )


def _infiltration(lot_id: str, zones: InfiltrationZones, criteria: Criteria, source: Mapping[str, str]) -> Verdict:
    row = zones.by_lot[zones.by_lot["lot_id"] == lot_id].iloc[0]
    area, limit = float(row["infiltration_area_m2"]), criteria.capture.infiltration_min_area_m2
    outcome: Outcome = "passed" if area >= limit else "failed"
    if row["infiltration_status"] == "not assessed":
        outcome = "not assessed"
    note = str(row["infiltration_why"]) if outcome != "passed" else "candidate only: tests are owed on site"
    return Verdict(
        lot_id=lot_id,
        subject_kind="lot",
        subject_id=lot_id,
        check="The lot has ground that may take water",
        statistic="infiltration_area_m2",
        value=area,
        operator=">=",
        threshold=limit,
        unit="m2",
        source=source["infiltration_min_area_m2"],
        outcome=outcome,
        note=note,
        aspect="remedy",
    )


def _structure(row: dict[str, Any], cell_m: float, criteria: Criteria, source: Mapping[str, str]) -> list[Verdict]:
    cut = bool(row["edge_contaminated"])
    unknown = row["exposure"] == "not assessed"
    depth, area = float(row["pond_depth_full_m"]), float(row["contributing_area_m2"])
    if unknown:
        depth = area = float("nan")
    where = "" if cut else f"most at {wall_words(row['inflow_side'])}"
    shared = {"lot_id": row["lot_id"], "subject_kind": "structure", "subject_id": row["structure_id"]}
    deep, wide = criteria.depressions.low_spot_min_depth_m, criteria.structures.structure_area_flag_m2
    fall, required = float(row["fall_away_pct"]), float(row["fall_required_pct"])
    return [
        Verdict(
            **shared,
            check="Water does not stand against a structure",
            statistic="pond_depth_full_m",
            value=_known(depth),
            operator="<",
            threshold=deep,
            unit="m",
            source=source["low_spot_min_depth_m"],
            outcome=_outcome(depth, depth < deep),
            note=row["exposure_why"] if unknown else f"deepest at {wall_words(row['pond_side'])}" if depth > 0 else "",
        ),
        Verdict(
            **shared,
            check="Little ground drains to a structure's walls",
            statistic="contributing_area_m2",
            value=_known(area),
            operator="<",
            threshold=wide,
            unit="m2",
            source=source["structure_area_flag_m2"],
            outcome=_outcome(area, area < wide, lower_bound=cut),
            note=row["exposure_why"]
            if unknown and not cut
            else _area_note(area, float(row["context_area_m2"]), cell_m, cut=cut, where=where),
        ),
        Verdict(
            **shared,
            check="The ground falls away from a structure's walls",
            statistic="fall_away_pct",
            value=_known(fall),
            operator=">=",
            threshold=required,
            unit="pct",
            source=source["fall_away_min_pct"],
            outcome=judge_fall(fall, required, float(row["fall_error_pct"])),
            note=_fall_note(row),
            is_indicative=True,
        ),
    ]


def _fall_note(row: dict[str, Any]) -> str:
    """Where, and how far the elevation can tell: percent alone, so that it reads the same in every unit."""
    error = float(row["fall_error_pct"])
    if error != error:
        return "too little open ground in view beside the wall to measure a fall"
    inside = abs(float(row["fall_away_pct"]) - float(row["fall_required_pct"])) < error
    words = "inside the elevation's two-point error" if inside else "beyond the elevation's two-point error"
    at = f"least at {wall_words(row['fall_away_side'])}"
    return f"indicative, {at}: {words} ({error:.1f} % at the 95 % level); levels on site must tell"


def _driveway(row: dict[str, Any], criteria: Criteria, source: Mapping[str, str]) -> Verdict:
    share, limit = float(row["to_structure_frac"]), criteria.driveways.driveway_to_structure_flag_frac
    return Verdict(
        lot_id=row["lot_id"],
        subject_kind="driveway",
        subject_id=row["driveway_id"],
        check="The driveway sheds away from walls",
        statistic="to_structure_frac",
        value=_known(share),
        operator="<=",
        threshold=limit,
        unit="frac",
        source=source["driveway_to_structure_flag_frac"],
        outcome=_outcome(share, share <= limit),
        note="" if share == share else "no elevation on it",
    )


def _not_given(lot_id: str, kind: str, check: str) -> Verdict:
    return Verdict(
        lot_id=lot_id,
        subject_kind=kind,
        subject_id="",
        check=check,
        statistic="",
        value=None,
        operator="<",
        threshold=0.0,
        unit="",
        source="",
        outcome="not assessed",
        note=f"no {kind} layer was given",
    )


def _known(value: float) -> float | None:
    return value if value == value else None
