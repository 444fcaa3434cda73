"""An extension: may a small excavator work on the lot, where is its lowest ground, and what would a rain garden do?

It is a package of its own beside the toolkit. Its metadata name `EXTENSION` as an entry point:

    [project.entry-points."screening.extensions"]
    small-site = "small_site:EXTENSION"
"""

from __future__ import annotations

import dataclasses

import geopandas as gpd
import numpy as np

from screening.grid import rasterize
from screening.hydraulics.rows import CheckRow
from screening.schema.checks import Check
from screening.schema.codes.verdicts import Operator, SubjectKind
from screening.schema.columns.kinds import number, text
from screening.schema.criteria import COMMON_PRACTICE, check_thresholds, threshold
from screening.schema.extensions import AddedColumn, Extension
from screening.schema.layers import LayerGroup, ResultLayer
from screening.schema.styles import INK, Style
from screening.schema.work_kinds import ImprovementKind, ImprovementNumber


@dataclasses.dataclass(frozen=True, kw_only=True)
class SmallSiteCriteria:
    """What a small excavator and a rain garden need."""

    excavator_slope_max_pct: float = threshold(
        20.0, "pct", "mean slope of a lot up to which a small excavator can work", COMMON_PRACTICE, low=1, high=100
    )
    weight_excavator: float = threshold(
        0.5, "", "weight of a lot too steep for a small excavator in the visit score", COMMON_PRACTICE, low=0, high=100
    )
    rain_garden_depth_max_m: float = threshold(
        0.3, "m", "deepest that a rain garden is dug", COMMON_PRACTICE, low=0.05, high=2
    )

    def __post_init__(self) -> None:
        check_thresholds(self)


TOO_STEEP = Check(
    check_id="excavator_slope",
    subject=SubjectKind.LOT,
    quantity="slope_pct",
    operator=Operator.AT_MOST,
    threshold="excavator_slope_max_pct",
    weight="weight_excavator",
    asks="A small excavator can work on the lot",
    finding="The lot is too steep for a small excavator",
)


def lowest_ground(result):
    """One point for each lot: the middle of its lowest cell."""
    grid, ground, lots = result.block.grid, result.surface.elev_m, result.block.lots
    number_of = rasterize(grid, list(lots.geometry), range(1, len(lots) + 1))
    rows = []
    for place, lot_id in enumerate(lots["lot_id"], start=1):
        own = np.where(number_of == place, ground, np.nan)
        if not np.isnan(own).all():
            row, col = np.unravel_index(np.nanargmin(own), own.shape)
            rows.append(
                (lot_id, float(own[row, col]), grid.x_of(0) + col * grid.cell_m, grid.y_of(0) - row * grid.cell_m)
            )
    columns = {"lot_id": [row[0] for row in rows], "lowest_elev_m": [row[1] for row in rows]}
    points = gpd.points_from_xy([row[2] for row in rows], [row[3] for row in rows])
    return gpd.GeoDataFrame(columns, geometry=points, crs=grid.crs)


LOWEST_GROUND = ResultLayer(
    key="lowest_ground",
    label="Lowest ground of each lot",
    noun="Lowest ground",
    group=LayerGroup.GROUND,
    rows=lowest_ground,
    own_columns=(
        text("lot_id", "Lot", "Id of the lot"),
        number("lowest_elev_m", "m", "Lowest ground", "Elevation of the lot's lowest cell"),
    ),
    id_column="lot_id",
    geometry="Point",
    styles={"lowest": Style(color=INK, weight=2.0, fill="#ffffff", fill_opacity=1.0, shape="point")},
    lies_on_lot=True,
    has_csv=True,
)


def dig(block, improvement):
    """The block with the ground of a rain garden lowered by its depth."""
    inside = rasterize(block.grid, [improvement.geometry], [1]) > 0
    ground = np.where(inside, block.elev_m - improvement.number("depth_m"), block.elev_m).astype(np.float32)
    return dataclasses.replace(block, elev_m=ground)


def check_garden(improvement, measured, after):
    """A rain garden is no deeper than one is dug."""
    return [
        CheckRow(
            check="The rain garden is no deeper than one is dug",
            statistic="cut_max_m",
            value=measured["cut_max_m"],
            operator="<=",
            threshold=after.criteria.value("rain_garden_depth_max_m"),
            unit="m",
            source=COMMON_PRACTICE,
        )
    ]


RAIN_GARDEN = ImprovementKind(
    kind="rain_garden",
    label="Rain garden",
    shapes=("polygon",),
    numbers=(
        ImprovementNumber(
            name="depth", quantity="length", label="Depth below the ground", low=0.05, high=2.0, is_needed=True
        ),
    ),
    apply=dig,
    check=check_garden,
)

EXTENSION = Extension(
    criteria=(SmallSiteCriteria,),
    checks=(TOO_STEEP,),
    layers=(LOWEST_GROUND,),
    kinds=(RAIN_GARDEN,),
    columns={
        "summary": (
            AddedColumn(
                column=number("excavator_margin_pct", "pct", "Slope left", "How much steeper an excavator could work"),
                value=lambda row, criteria: criteria.value("excavator_slope_max_pct") - row["slope_pct"],
            ),
        )
    },
)
