"""How a driveway falls: along, across, and where its high or low line runs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from screening.driveways.terrain import DrivewayTerrain
from screening.models import F64
from screening.schema.codes.driveways import DrivewayForm
from screening.schema.codes.flow import compass_of
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_TOLERANCE = 1e-6
_BENT_FRAC = 0.8
"""Share of its least rectangle that a straight driveway fills."""


@dataclass(frozen=True, kw_only=True)
class DrivewayShape:
    """The fall of one driveway: slopes in percent, not negative; NaN = not assessed.

    Parameters
    ----------
    kind
        Crowned has a high line within it, a trough a low line.
    long_falls_to, cross_falls_to
        Compass words of the way down along it, and across it; empty where it is level.
    crown_m
        Height of the middle over both edges; negative where the middle is a trough.
    line_offset_m
        Distance of the high or low line from the middle; NaN where there is none within the driveway.
    line_offset_to
        Compass word of the side to which it lies off; empty where in the middle.
    residual_m
        Root mean square of what the fit leaves: ground that is warped or rough.
    is_bent
        Fills too little of its least rectangle for one direction to hold along all of it.
    """

    length_m: float
    width_m: float
    kind: DrivewayForm
    long_slope_pct: float
    long_falls_to: str
    cross_slope_pct: float
    cross_falls_to: str
    crown_m: float
    line_offset_m: float
    line_offset_to: str
    residual_m: float
    is_narrow: bool
    is_bent: bool


def fit_driveway_shape(terrain: DrivewayTerrain, *, criteria: Criteria) -> DrivewayShape:
    """Fit a plane with a parabola across to the ground of a driveway, each cell by the share of it that is covered.

    Along is the long side of the least rectangle around the outline; a bent driveway is not split, but said to be
    bent.

    Parameters
    ----------
    terrain
        From `driveway_ground.lay_out`.
    criteria
        `driveway_width_min_cells`, `driveway_crown_min_m`.
    """
    along, length, width = _axes(terrain.shape)
    across = np.array([-along[1], along[0]])
    is_narrow = width < criteria.driveways.driveway_width_min_cells * terrain.grid.cell_m * (1.0 - _TOLERANCE)
    fit = _fit(terrain, along, across, is_narrow=is_narrow)
    cross = None if fit is None or is_narrow else _cross(fit, across, width, terrain.grid.cell_m, criteria)
    fall = np.nan if fit is None else float(fit.terms[1])
    return DrivewayShape(
        length_m=length,
        width_m=width,
        kind=cross.kind if cross else DrivewayForm.NOT_ASSESSED,
        long_slope_pct=100.0 * abs(fall),
        long_falls_to="" if fit is None else _way(-fall * along),
        cross_slope_pct=cross.slope_pct if cross else np.nan,
        cross_falls_to=cross.falls_to if cross else "",
        crown_m=cross.crown_m if cross else np.nan,
        line_offset_m=cross.line_offset_m if cross else np.nan,
        line_offset_to=cross.line_offset_to if cross else "",
        residual_m=np.nan if fit is None else fit.residual_m,
        is_narrow=is_narrow,
        is_bent=terrain.shape.area < _BENT_FRAC * length * width,
    )


@dataclass(frozen=True, kw_only=True)
class _Cross:
    """The fall across, as in `DrivewayShape`."""

    kind: DrivewayForm
    slope_pct: float
    falls_to: str
    crown_m: float
    line_offset_m: float
    line_offset_to: str


def _cross(fit: _Fit, across: F64, width: float, cell_m: float, criteria: Criteria) -> _Cross:
    tilt, bow = float(fit.terms[2]), float(fit.terms[3])
    kind, offset = _line(tilt, bow, width, criteria.driveways.driveway_crown_min_m)
    is_middle = np.isnan(offset) or abs(offset) < cell_m / 4
    return _Cross(
        kind=kind,
        slope_pct=100.0 * abs(tilt),
        falls_to=_way(-tilt * across),
        crown_m=-bow * (width / 2.0) ** 2,
        line_offset_m=abs(offset),
        line_offset_to="" if is_middle else _way(np.sign(offset) * across),
    )


@dataclass(frozen=True, eq=False)
class _Fit:
    """Terms of the fitted ground, along first, and the root mean square of what they leave [m]."""

    terms: F64
    residual_m: float


def _fit(terrain: DrivewayTerrain, along: F64, across: F64, *, is_narrow: bool) -> _Fit | None:
    """Fit a plane, with a parabola across unless it is too narrow for one; None where the cells do not tell."""
    cells = np.flatnonzero((terrain.covered_frac > 0).ravel() & ~np.isnan(terrain.ground_m).ravel())
    row, col = np.divmod(cells, terrain.grid.n_cols)
    place = np.column_stack(
        (terrain.grid.x_of(0) + col * terrain.grid.cell_m, terrain.grid.y_of(0) - row * terrain.grid.cell_m)
    )
    place = place - _middle(terrain.shape)
    s, t = place @ along, place @ across
    terms = np.column_stack([np.ones_like(s), s] if is_narrow else [np.ones_like(s), s, t, t**2])
    weight = np.sqrt(terrain.covered_frac.ravel()[cells])[:, np.newaxis]
    z = terrain.ground_m.ravel()[cells]
    # About their mean, so that the size of the elevations does not cost digits.
    middle = float(z.mean()) if z.size else 0.0
    fit, _, rank, _ = np.linalg.lstsq(terms * weight, (z - middle) * weight[:, 0], rcond=None)
    if rank < terms.shape[1]:
        return None
    rough = z - middle - terms @ fit
    return _Fit(np.asarray(fit, np.float64), float(np.sqrt((rough**2 * weight[:, 0] ** 2).sum() / (weight**2).sum())))


def _line(tilt: float, bow: float, width: float, least_m: float) -> tuple[DrivewayForm, float]:
    """Kind, and where across the parabola is level: NaN where that is no line within the driveway."""
    if abs(bow) * (width / 2.0) ** 2 < least_m:
        return DrivewayForm.PLANAR, np.nan
    offset = -tilt / (2.0 * bow)
    if abs(offset) >= width / 2.0:
        return DrivewayForm.PLANAR, np.nan
    return (DrivewayForm.CROWNED if bow < 0 else DrivewayForm.TROUGH), offset


def _axes(shape: BaseGeometry) -> tuple[F64, float, float]:
    """Unit vector along, length, and width as area over length or of the rectangle, whichever is less."""
    import shapely

    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))
    sides = np.diff(corners[:3], axis=0)
    lengths = np.hypot(*sides.T)
    place = int(np.argmax(lengths))
    along = sides[place] / lengths[place]
    # One of the two ways along, the same for any order of the corners.
    if along[1] < -_TOLERANCE or (abs(along[1]) <= _TOLERANCE and along[0] < 0):
        along = -along
    return along, float(lengths[place]), float(lengths[1 - place])


def _middle(shape: BaseGeometry) -> F64:
    import shapely

    return np.asarray(shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape).centroid)[0], np.float64)


def _way(vector: F64) -> str:
    """Compass word of a direction; empty for none."""
    if float(np.hypot(*vector)) < 1e-5:
        return ""
    return compass_of(float(np.rad2deg(np.arctan2(vector[0], vector[1])))).value
