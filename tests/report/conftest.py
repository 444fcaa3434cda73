"""A small finished screening made by hand, so that reports are tested without the stages."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from screening.grid import Grid
from screening.models import (
    Block,
    BlockResult,
    Capture,
    Depressions,
    DrivewayStudy,
    FlowField,
    GroundCover,
    InfiltrationZones,
    Interception,
    LowSpots,
    NestedZones,
    Ponding,
    Rain,
    Storm,
    Surface,
    Verdict,
    note,
    said,
)
from screening.schema.codes.capture import LotStorageReason, RateBasis, RouteEnd, RouteKind, ZoneSize
from screening.schema.codes.interception import LinePlace
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from screening.schema.codes.outfall import Outfall, Reach, RouteReason
from screening.schema.codes.storage import CautionKey, Known, QuantityKind, RainDistribution
from screening.schema.codes.verdicts import Aspect, Operator, Outcome, SubjectKind, VerdictReason
from screening.schema.columns import DECLARED, untold
from screening.schema.criteria import Criteria
from screening.storage.ranges import exactly

CRS = "EPSG:26917"
WEST_M, NORTH_M = 500_000.0, 4_400_000.0
GRID = Grid(crs=CRS, west_m=WEST_M, north_m=NORTH_M, cell_m=1.0, n_rows=40, n_cols=60)

RETURNS = {"threshold_return_code": "not known", "threshold_return_bound_yr": np.nan}
TRUST = {"confidence_code": "not assessed", "n_counted": 0, "n_realisations": 0}
CODES: dict[str, dict[str, Any]] = {
    "infiltration_zones": {"rate_from": RateBasis.URBAN_GROUP, "size": ZoneSize.ALONE, "n_points": 0},
    "summary": {
        "storage_reason": LotStorageReason.NO_GROUND,
        "storage_room_frac": 0.5,
        "main_code": "nothing",
        "peak_code": "rational method",
    },
    "structures": TRUST | RETURNS,
    "low_spots": TRUST | RETURNS,
    "driveways": TRUST | {"shed_shares": (), "shape_limits": ()},
    "driveway_storms": {"peak_code": "rational method", "peak_limit": np.nan},
}
"""Codes that sentences are made from, where a row gives none."""
MakeResult = Callable[..., BlockResult]


def box(west: float, south: float, east: float, north: float) -> shapely.Polygon:
    """A rectangle in metres from the lower left corner of the grid."""
    base = NORTH_M - GRID.n_rows
    return shapely.box(WEST_M + west, base + south, WEST_M + east, base + north)


def frame(name: str, rows: list[dict[str, Any]], shapes: list[Any]) -> gpd.GeoDataFrame:
    """A table as its stage makes it; what a row does not give is empty, 0.5, 2 or False by its kind."""
    empty: dict[str, Any] = {"text": "", "code": "", "code number": 0.5, "number": 0.5, "count": 2, "flag": False}
    rows = [CODES.get(name, {}) | row for row in rows]
    columns = untold(DECLARED[name])
    data = {column.name: [row.get(column.name, empty[column.kind]) for row in rows] for column in columns}
    data |= {code: [row.get(code, value) for row in rows] for code, value in CODES.get(name, {}).items()}
    return gpd.GeoDataFrame(data, geometry=shapes, crs=CRS)


def layer(shapes: list[Any], **fields: list[Any]) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(fields, geometry=shapes, crs=CRS)


def ground_m() -> np.ndarray[Any, Any]:
    """A plane that falls to the south-east, with a bowl 0.5 m deep and a gap in one corner."""
    row, col = np.mgrid[0 : GRID.n_rows, 0 : GRID.n_cols].astype(np.float32)
    ground = 100.0 - 0.03 * row - 0.02 * col
    ground -= np.clip(0.5 - 0.02 * ((row - 20) ** 2 + (col - 15) ** 2), 0, None)
    ground[:3, :4] = np.nan
    return ground.astype(np.float32)


def make_block(lot_ids: tuple[str, str], kind: str) -> Block:
    return Block(
        grid=GRID,
        elev_m=ground_m(),
        lots=layer([box(2, 2, 28, 38), box(28, 2, 58, 38)], lot_id=list(lot_ids)),
        structures=layer(
            [box(10, 10, 20, 18), box(40, 10, 50, 18), box(0, 38, 2, 40)],
            structure_id=["S-1", "S-2", "S-3"],
            lot_id=[lot_ids[0], lot_ids[1], ""],
            kind=[kind] * 3,
        ),
        driveways=layer([box(20, 2, 23, 12)], driveway_id=["D-1"], lot_id=[lot_ids[0]], kind=["driveway"]),
        roads=layer([box(0, 0, 60, 2)]),
        soils=layer(
            [box(0, 0, 60, 40)],
            mukey=["1"],
            hsg=["B/D"],
            ksat_mm_h=[np.nan],
            water_depth_m=[np.nan],
            restrictive_depth_m=[np.nan],
        ),
        drains=layer(
            [shapely.LineString([(WEST_M + 5, NORTH_M - 39), (WEST_M + 30, NORTH_M - 39)])],
            drain_id=["K-1"],
            kind=["culvert"],
            invert_up_m=[np.nan],
            invert_down_m=[np.nan],
            depth_m=[np.nan],
        ),
        wells=layer([shapely.Point(WEST_M + 50, NORTH_M - 5)]),
        septic=layer([box(50, 25, 56, 34)]),
        barriers=layer(
            [shapely.LineString([(WEST_M + 5, NORTH_M - 3), (WEST_M + 35, NORTH_M - 3)])],
            barrier_id=["B-1"],
            kind=[kind],
            height_m=[0.15],
        ),
        downspouts=layer([], downspout_id=[], structure_id=[]),
        doors=layer(
            [shapely.Point(WEST_M + 15, NORTH_M - 30)],
            door_id=["DR-1"],
            kind=[kind],
            structure_id=["S-1"],
            sill_elev_m=[99.5],
        ),
        wetlands=layer([box(0, 36, 4, 40)]),
        utilities=layer([shapely.LineString([(WEST_M + 30, NORTH_M - 3), (WEST_M + 58, NORTH_M - 3)])]),
        trees=layer([box(52, 4, 57, 8)]),
        given=frozenset({"lots", "structures"}),
        notes=(note(NoteKind.ASSUMED, NoteSubject.ELEVATION, NoteCode.UNIT_STATED, unit="m"),),
    )


def make_verdicts(lot_ids: tuple[str, str], text: str) -> tuple[Verdict, ...]:
    return (
        Verdict(
            check_id="off_lot_area",
            lot_id=lot_ids[0],
            subject_kind=SubjectKind.LOT,
            subject_id=lot_ids[0],
            statistic="off_lot_area_m2",
            value=400.0,
            operator=Operator.BELOW,
            threshold=1000.0,
            unit="m2",
            outcome=Outcome.PASSED,
        ),
        Verdict(
            check_id="standing_water",
            lot_id=lot_ids[0],
            subject_kind=SubjectKind.STRUCTURE,
            subject_id="S-1",
            statistic="pond_depth_full_m",
            value=0.4,
            operator=Operator.BELOW,
            threshold=0.1,
            unit="m",
            outcome=Outcome.FAILED,
            reasons=(VerdictReason.DEEPEST_AT_SIDE,),
            facts=(("pond_side", text),),
        ),
        Verdict(
            check_id="driveway_to_wall",
            lot_id=lot_ids[1],
            subject_kind=SubjectKind.DRIVEWAY,
            subject_id="",
            statistic="",
            value=None,
            operator=Operator.BELOW,
            threshold=0.0,
            unit="",
            outcome=Outcome.NOT_ASSESSED,
            reasons=(VerdictReason.LAYER_NOT_GIVEN,),
            facts=(("layers", "driveways"),),
        ),
        Verdict(
            check_id="infiltration_ground",
            lot_id=lot_ids[1],
            subject_kind=SubjectKind.LOT,
            subject_id=lot_ids[1],
            statistic="infiltration_area_m2",
            value=0.0,
            operator=Operator.AT_LEAST,
            threshold=12.0,
            unit="m2",
            outcome=Outcome.FAILED,
            reasons=(VerdictReason.RULES_LIMIT,),
            facts=(("infiltration_limits", ""),),
            aspect=Aspect.REMEDY,
        ),
    )


def plain(name: str, rows: list[dict[str, Any]]) -> pd.DataFrame:
    return pd.DataFrame(frame(name, rows, [None] * len(rows)).drop(columns="geometry"))


def make_capture(zones: gpd.GeoDataFrame, lot_id: str, text: str) -> Capture:
    own = {"lot_id": lot_id, "storage_id": "ST-1", "zone_id": "IZ-1", "point_id": "CP-1"}
    line = shapely.LineString([(WEST_M + 12, NORTH_M - 28), (WEST_M + 8, NORTH_M - 12)])
    return Capture(
        zones=zones,
        points=frame(
            "collection_points", [own | {"kind": "low spot", "source_id": text}], [shapely.Point(line.coords[0])]
        ),
        routes=frame(
            "collection_routes",
            [
                own
                | {
                    "kind": RouteKind.COLLECTION,
                    "reach": Reach.REACHABLE,
                    "reason": RouteReason.FALLS_ENOUGH,
                    "end": RouteEnd.LOW_SPOT,
                    "end_id": text,
                }
            ],
            [line],
        ),
        options=plain(
            "storage_options",
            [
                own
                | {
                    "reasons": (),
                    "stone_shares": (),
                    "distribution": RainDistribution.UNIFORM,
                    "distribution_h": 24.0,
                    "rate_from": RateBasis.URBAN_GROUP,
                    "hsg": text,
                    "overflow_end": RouteEnd.WALLS,
                    "overflow_id": text,
                }
            ],
        ),
        quantities=plain(
            "quantities", [own | {"quantity": QuantityKind.STONE, "assumed": exactly(1.0), "sides": None}]
        ),
        cautions=plain(
            "site_cautions",
            [
                own
                | {
                    "key": CautionKey.SLOPE,
                    "known": Known.NOT_KNOWN,
                    "overflow_end": RouteEnd.NONE,
                    "overflow_id": "",
                    "what": "Slope of the ground",
                    "value": 25.0,
                    "limit": 20.0,
                    "unit": "pct",
                    "is_triggered": True,
                    "source": text,
                }
            ],
        ),
        verdicts=make_verdicts((lot_id, lot_id), text)[:1],
    )


def make_interception(lot_id: str, text: str) -> Interception:
    """A line across the driveway of the first lot, with its pipe and a check of it."""
    ids = {"line_id": "IL-1", "driveway_id": "D-1", "lot_id": lot_id}
    base = NORTH_M - GRID.n_rows
    line = shapely.LineString([(WEST_M + 20, base + 9), (WEST_M + 23, base + 9)])
    pipe = shapely.LineString([(WEST_M + 23, base + 9), (WEST_M + 27, base + 4)])
    check = Verdict(
        check_id="bypass_frac",
        lot_id=lot_id,
        subject_kind=SubjectKind.INTERCEPTION_LINE,
        subject_id="IL-1",
        statistic="bypass_frac",
        value=0.05,
        operator=Operator.AT_MOST,
        threshold=0.1,
        unit="frac",
        outcome=Outcome.PASSED,
        facts=said(check="Little still comes over the driveway to walls", source=text),
        aspect=Aspect.REMEDY,
    )
    return Interception(
        frame(
            "interception_lines",
            [
                ids
                | {
                    "place": LinePlace.GARAGE_FRONT,
                    "outlet": Outfall.ZONE,
                    "outlet_zone_id": text,
                    "peak_code": "rational method",
                    "peak_limit": np.nan,
                    "bypass_frac": 0.05,
                    "structure_id": "S-1",
                }
            ],
            [line],
        ),
        frame("drain_outlets", [ids | {"kind": Outfall.ZONE, "zone_id": text}], [pipe]),
        (check,),
    )


def make_driveway_study(lot_id: str, text: str) -> DrivewayStudy:
    ids = {"driveway_id": "D-1", "lot_id": lot_id}
    edge = shapely.LineString([(WEST_M + 20, NORTH_M - 28), (WEST_M + 23, NORTH_M - 28)])
    middle = shapely.Point(WEST_M + 21.5, NORTH_M - 33)
    return DrivewayStudy(
        edges=frame("driveway_edges", [ids | {"edge_id": "D-1 1", "sheds_to": "garage", "sheds_to_id": text}], [edge]),
        arrows=frame("driveway_arrows", [ids | {"direction_deg": 90.0}], [middle]),
        low_points=frame("driveway_low_points", [ids | {"low_point_id": "D-1 low 1", "kind": "holds water"}], [middle]),
        areas=frame("driveway_areas", [ids], [box(20, 2, 23, 20)]),
        storms=plain("driveway_storms", [ids | {"storm": text, "peak_code": "rational method", "peak_limit": np.nan}]),
    )


def make_result(
    lot_ids: tuple[str, str] = ("A-1", "A-2"), kind: str = "house", text: str = "a low spot reaches the wall"
) -> BlockResult:
    """The screening of two lots, with chosen texts where a file could bring any text."""
    block = make_block(lot_ids, kind)
    shape, one, two = GRID.shape, *lot_ids
    ground = block.elev_m
    bowl = np.zeros(shape, np.float32)
    bowl[18:23, 12:19] = 0.35
    label = (bowl > 0).astype(np.int32)
    flat = np.full(shape, 25.0)
    low_spots = frame(
        "low_spots",
        [{"low_spot_id": "LS-1", "lot_id": f"{one}, {two}", "structure_ids": "S-1", "threshold_rainfall_mm": np.nan}],
        [box(12, 17, 19, 22)],
    )
    summary = frame(
        "summary",
        [
            {
                "lot_id": one,
                "visit_rank": 1,
                "main_code": "check",
                "main_check_id": "standing_water",
                "main_subject_id": text,
                "n_flags": 1,
                "n_not_assessed": 0,
                "exposure": "ponding",
                "storm": text,
                "run_on_m3": -3.25,
                "slope_pct": np.nan,
            },
            {
                "lot_id": two,
                "visit_rank": 2,
                "n_flags": 0,
                "n_not_assessed": 1,
                "exposure": "low",
                "infiltration_status": "not assessed",
                "infiltration_area_m2": np.nan,
            },
        ],
        list(block.lots.geometry),
    )
    structures = frame(
        "structures",
        [
            {"structure_id": "S-1", "lot_id": one, "kind": kind, "exposure": "ponding", "low_spot_id": text},
            {"structure_id": "S-2", "lot_id": two, "kind": kind, "exposure": "low", "freeboard_m": np.nan},
        ],
        list(block.structures.geometry[:2]),
    )
    south = shapely.LineString([(WEST_M + 10, NORTH_M - 30), (WEST_M + 20, NORTH_M - 30)])
    at_wall = {"structure_id": "S-1", "lot_id": one, "side": "south"}
    path = shapely.LineString([(WEST_M + 5, NORTH_M - 5), (WEST_M + 30, NORTH_M - 20), (WEST_M + 59, NORTH_M - 38)])
    zones = frame(
        "infiltration_zones", [{"zone_id": "IZ-1", "lot_id": one, "status": "candidate"}], [box(4, 25, 12, 34)]
    )
    return BlockResult(
        block=block,
        criteria=Criteria(),
        surface=Surface(
            grid=GRID,
            elev_m=ground.copy(),
            routed_elev_m=ground.copy(),
            structure_index=np.zeros(shape, np.int32),
            is_interpolated=np.zeros(shape, bool),
            changes=frame("surface_changes", [{"change_id": "SC-1", "kind": text}], [box(5, 3, 35, 4)]),
        ),
        flow=FlowField(
            grid=GRID,
            filled_elev_m=ground.copy(),
            flow_dir_d8=np.zeros(shape, np.uint8),
            receiver=np.arange(ground.size),
            order=np.arange(ground.size),
            contributing_area_m2=flat.copy(),
            edge_sides=np.zeros(shape, np.uint8),
        ),
        depressions=Depressions(
            low_spots=LowSpots(
                grid=GRID,
                label=label,
                depth_m=bowl,
                level_m=np.array([99.0]),
                spill_cell=np.array([5]),
                node=np.array([1]),
                zones=NestedZones(
                    cells=np.flatnonzero(label),
                    innermost=np.zeros(35, np.int64),
                    first=np.array([0]),
                    last=np.array([35]),
                    around=np.array([-1]),
                ),
                found=pd.DataFrame({"low_spot_id": ["LS-1"], "part_of": [""], "is_enclosed": [False]}),
            ),
            table=low_spots,
            overflow_paths=frame(
                "overflow_paths", [{"low_spot_id": "LS-1", "overflow_m3": 12.0, "spills_to": text}], [path]
            ),
        ),
        storm=Storm(
            grid=GRID,
            rain=Rain(depth_mm=108.2, label="10yr-24h", source=text),
            curve_number=flat.astype(np.float32),
            runoff_mm=flat.astype(np.float32),
            ground_cover=GroundCover(grid=GRID, cover=np.ones(shape, np.uint8), group=np.zeros(shape, np.uint8)),
        ),
        ponding=Ponding(
            grid=GRID,
            table=pd.DataFrame({"low_spot_id": ["LS-1"]}),
            water_depth_m=bowl / 2,
            rain_m3=130.0,
            abstracted_m3=30.0,
            runoff_m3=100.0,
            ponded_m3=20.0,
            left_window_m3=80.0,
        ),
        structures=structures,
        structure_sides=frame("structure_sides", [at_wall | {"side_id": "S-1 south", "exposure": "ponding"}], [south]),
        inflow_points=frame("inflow_points", [at_wall | {"inflow_point_id": "WA-1"}], [south.centroid]),
        doors=frame("doors", [at_wall | {"door_id": "DR-1", "kind": kind, "sill_elev_m": np.nan}], [south.centroid]),
        driveways=frame(
            "driveways",
            [{"driveway_id": "D-1", "lot_id": one, "to_structure_frac": np.nan}],
            list(block.driveways.geometry),
        ),
        zones=InfiltrationZones(
            grid=GRID,
            reasons=np.zeros(shape, np.uint32),
            table=zones,
            by_lot=pd.DataFrame(),
            rejections=plain("infiltration_rejections", [{"lot_id": one, "reason": text}]),
        ),
        capture=make_capture(zones, one, text),
        interception=make_interception(one, text),
        flow_paths=frame("flow_paths", [{"flow_path_id": "F-1", "contributing_area_m2": 5000.0}], [path]),
        catchments=frame(
            "contributing_areas", [{"lot_id": one}, {"lot_id": two}], [box(2, 2, 28, 40), box(28, 2, 58, 40)]
        ),
        verdicts=make_verdicts(lot_ids, text),
        summary=summary,
        notes=(*block.notes, note(NoteKind.CAUTION, NoteSubject.WINDOW, NoteCode.HEIGHTS_UNLIKELY, message=text)),
        driveway_study=make_driveway_study(one, text),
    )


@pytest.fixture
def tiny_result() -> BlockResult:
    return make_result()


HOSTILE_TEXTS = {
    "script": "<script>document.title='owned'</script>",
    "closing": "</script></title><img src=x onerror=\"document.title='owned'\">",
    "quotes": "\"' onmouseover='document.title=1' {{ 7*7 }} {% raw %} ${1} `x`",
    "formula": '=HYPERLINK("x")',
    "right to left": "\u202eגינה\u2066 ابن",
    "long": "x" * 10_000,
    "lines": "one\r\ntwo\u2028three\tfour\x1b[31mred",
    "comment": "<!-- ]]> &lt; &amp;",
}


@pytest.fixture(params=list(HOSTILE_TEXTS), ids=lambda name: name.replace(" ", "_"))
def hostile_text(request: pytest.FixtureRequest) -> str:
    return HOSTILE_TEXTS[request.param]


@pytest.fixture
def hostile_result(hostile_text: str) -> BlockResult:
    """Every text that a file could bring is the hostile one."""
    return make_result((hostile_text, f"{hostile_text} 2"), hostile_text, hostile_text)
