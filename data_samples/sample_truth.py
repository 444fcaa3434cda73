"""What is planted in the sample, measured on the design surface (and again after noise where it matters)."""

from __future__ import annotations

import numpy as np
import shapely
from sample_context import SOILS, culvert, septic_fields, soil_polygons, wells
from sample_flow import contributing_cells, flood, steepest_receivers
from sample_layout import CRS, PAVEMENT_HALF_M, SOUTH_M, WEST_M, Lot
from sample_terrain import BOWL_LOT, LANE, Drive, Ground, bowl_centre, lane_crossing, void_mask
from scipy.ndimage import binary_dilation, convolve, label

WALL_M = 3.0
SETBACK_M = {"structure": 3.05, "lot_line": 3.05, "well": 30.5, "septic": 15.2}
SLOPE_LIMIT_PCT = 20.0
ROOM_M2 = 80.0
UNITS = {
    "x_m, y_m": f"metres in {CRS}",
    "_m": "metres",
    "_m2": "square metres",
    "_m3": "cubic metres",
    "_pct": "percent, rise over run",
    "_frac": "share between 0 and 1",
    "_elev_m": "metres above the sample's own datum",
}


class Masks:
    """Rasterised plan: a cell belongs to a shape where its centre lies in it."""

    def __init__(self, g: Ground, lots: list[Lot]) -> None:
        self.points = shapely.points(g.u, g.v)
        self.structures = {k: self.cells(p) for lot in lots for k, p in lot.structures().items()}
        self.drives = {lot.number: self.cells(lot.drive) for lot in lots if lot.drive is not None}
        self.lots = {lot.spec.lot_id: self.cells(lot.polygon) for lot in lots}
        self.walls = np.any(list(self.structures.values()), axis=0)

    def cells(self, shape: shapely.Geometry) -> np.ndarray:
        """Cells whose centre lies in a shape."""
        shapely.prepare(shape)
        return shapely.intersects(shape, self.points)


def beside(mask: np.ndarray) -> np.ndarray:
    return binary_dilation(mask, np.ones((3, 3), dtype=bool)) & ~mask


def with_walls(z: np.ndarray, masks: Masks) -> np.ndarray:
    """Surface with each structure standing above the highest ground under it."""
    out = z.copy()
    for cells in masks.structures.values():
        out[cells] = np.nanmax(z[cells]) + WALL_M
    return out


def xy(uv: np.ndarray) -> dict[str, float]:
    return {"x_m": round(float(uv[0] + WEST_M), 2), "y_m": round(float(uv[1] + SOUTH_M), 2)}


def low_spot(z: np.ndarray, g: Ground, at: np.ndarray) -> dict[str, float]:
    """Spill elevation, depth, area and volume of the pond, when full, that holds a place."""
    filled, _, _ = flood(z)
    row, col = np.unravel_index(np.argmin(np.hypot(g.u - at[0], g.v - at[1])), z.shape)
    spill = filled[row, col]
    groups, _ = label((filled == spill) & (filled > z), np.ones((3, 3)))
    pond = groups == groups[row, col]
    depth = (filled - z)[pond]
    return {
        "spill_elev_m": round(float(spill), 3),
        "depth_max_m": round(float(depth.max()), 3),
        "area_m2": float(pond.sum()),
        "volume_m3": round(float(depth.sum()), 2),
    }


def wall_depths(z: np.ndarray, masks: Masks) -> dict[str, float]:
    """Greatest depth of ponds, when full, in the cells beside each structure's walls [m]."""
    filled, _, _ = flood(with_walls(z, masks))
    depth = np.where(masks.walls, 0.0, filled - z)
    rings = {key: beside(cells) & ~masks.walls for key, cells in masks.structures.items()}
    return {key: round(float(depth[ring].max()), 3) for key, ring in rings.items()}


def driveway_truth(drives: dict[str, Drive], lots: dict[str, Lot]) -> dict[str, object]:
    """Which garages take the water of their driveway, by design."""
    rows = []
    for lot_id, drive in drives.items():
        spec, number = lots[lot_id].spec, lots[lot_id].number
        rows.append(
            {
                "driveway_id": f"D-{number}",
                "garage_id": f"G-{number}",
                "lot_id": lot_id,
                "slope_pct": spec.grade_pct,
                "sheds_to": "garage" if spec.grade_pct < 0 else "street",
                "takes_street_water": spec.takes_street_water,
                "garage_floor_elev_m": round(drive.floor_m, 3),
                "gutter_elev_m": round(drive.gutter_m, 3),
            }
        )
    return {
        "note": "slope_pct is along the driveway, negative where it falls from the street to the garage",
        "take_water": [row["garage_id"] for row in rows if row["sheds_to"] == "garage"],
        "do_not_take_water": [row["garage_id"] for row in rows if row["sheds_to"] == "street"],
        "driveways": rows,
    }


def upstream(receiver: np.ndarray, order: np.ndarray, target: np.ndarray) -> np.ndarray:
    """Cells whose flow path meets the target, the target with them."""
    meets = target.ravel().tolist()
    to = receiver.tolist()
    for i in order.tolist():
        if to[i] >= 0 and meets[to[i]]:
            meets[i] = True
    return np.array(meets).reshape(target.shape)


def run_on_truth(surfaces: tuple[np.ndarray, np.ndarray], masks: Masks, lots: list[Lot]) -> dict[str, object]:
    """Ground outside each lot whose flow path enters it; lots where the surfaces agree on much or little."""
    areas: list[dict[str, float]] = []
    for z in surfaces:
        receiver, order = steepest_receivers(with_walls(z, masks))
        meets = {lot_id: upstream(receiver, order, cells) for lot_id, cells in masks.lots.items()}
        areas.append({lot_id: float((meets[lot_id] & ~cells).sum()) for lot_id, cells in masks.lots.items()})
    design, noisy = areas
    numbers = [int(lot.number) for lot in lots if lot.spec.takes_street_water]
    near_street_water = {f"TR-{n + step:02d}" for n in numbers for step in (-1, 0, 1)}
    return {
        "note": "area outside the lot that drains onto it, with buildings standing as walls; D8. Paths on a "
        "plain hillside shift with noise: a lot is listed where both surfaces give 2500 m2 or more, or 600 "
        "m2 or less, and in the latter list only if no neighbour takes the street's water",
        "area_outside_m2": design,
        "area_outside_after_noise_m2": noisy,
        "receive": [k for k in design if min(design[k], noisy[k]) >= 2500.0],
        "receive_little": [k for k in design if max(design[k], noisy[k]) <= 600.0 and k not in near_street_water],
    }


def swale_house(z: np.ndarray, masks: Masks, lot: Lot) -> dict[str, object]:
    """House with a swale leading to its back wall: the ground that drains to its walls."""
    receiver, order = steepest_receivers(with_walls(z, masks))
    ring = beside(masks.structures[f"H-{lot.number}"]) & ~masks.walls
    area = (upstream(receiver, order, ring) & ~masks.walls).sum()
    largest = contributing_cells(receiver, order, np.ones(z.shape)).reshape(z.shape)[ring].max()
    return {
        "structure_id": f"H-{lot.number}",
        "lot_id": lot.spec.lot_id,
        **xy(np.array(lot.house.centroid.coords[0])),
        "contributing_area_m2": float(area),
        "largest_flow_at_wall_m2": float(largest),
    }


def slope_pct(z: np.ndarray) -> np.ndarray:
    """Slope by third-order differences over 3 x 3 cells (Horn 1981, doi:10.1109/PROC.1981.11918)."""
    kernel = np.array([[-1, 0, 1], [-2, 0, 2], [-1, 0, 1]]) / 8.0
    return 100.0 * np.hypot(convolve(z, kernel, mode="nearest"), convolve(z, kernel.T, mode="nearest"))


class InfiltrationRules:
    """Cells of each lot that meet soil, slope and setback rules, tightened or loosened by a margin."""

    def __init__(self, g: Ground, masks: Masks, lots: list[Lot]) -> None:
        by_id = {lot.spec.lot_id: lot for lot in lots}
        self.masks, self.lots = masks, by_id
        self.soil = {SOILS[key][3] or "unknown": np.zeros(g.z.shape, dtype=bool) for key in SOILS}
        for key, shape in soil_polygons().items():
            self.soil[SOILS[key][3] or "unknown"] |= masks.cells(shape)
        self.slope = slope_pct(g.z)
        structures = shapely.union_all([p for lot in lots for p in lot.structures().values()])
        self.distance = {
            "structure": shapely.distance(structures, masks.points),
            "well": shapely.distance(shapely.MultiPoint(list(wells(by_id).values())), masks.points),
            "septic": shapely.distance(shapely.union_all(list(septic_fields(by_id).values())), masks.points),
        }
        paved = np.any(list(masks.drives.values()), axis=0) | (np.abs(g.d) <= PAVEMENT_HALF_M)
        self.open_ground = ~paved & ~masks.walls

    def rejected(self, lot_id: str, margin: float) -> dict[str, np.ndarray]:
        """Open cells of a lot that each rule rejects; a positive margin makes the rules stricter."""
        cells = self.masks.lots[lot_id] & self.open_ground
        to_line = shapely.distance(self.lots[lot_id].polygon.exterior, self.masks.points[cells])
        line = np.zeros(cells.shape, dtype=bool)
        line[cells] = to_line < SETBACK_M["lot_line"] + margin
        out = {f"hydrologic group {k}": cells & self.soil[k] for k in ("C", "D", "B/D", "unknown")}
        out["slope"] = cells & (self.slope >= SLOPE_LIMIT_PCT - 3.0 * margin)
        out["setback lot_line"] = line
        for key, distance in self.distance.items():
            out[f"setback {key}"] = cells & (distance < SETBACK_M[key] + margin)
        return out

    def remaining(self, lot_id: str, margin: float) -> np.ndarray:
        """Cells of a lot that no rule rejects."""
        cells = self.masks.lots[lot_id] & self.open_ground
        return cells & ~np.any(list(self.rejected(lot_id, margin).values()), axis=0)


def infiltration_truth(rules: InfiltrationRules) -> dict[str, object]:
    """Lots that clearly can and clearly cannot take infiltration; doubtful lots are in neither list."""
    can, cannot = [], []
    for lot_id, cells in rules.masks.lots.items():
        groups, _ = label(rules.remaining(lot_id, 1.0))
        largest = int(np.bincount(groups.ravel())[1:].max(initial=0))
        if largest >= ROOM_M2:
            can.append({"lot_id": lot_id, "largest_zone_m2": float(largest)})
        elif not rules.remaining(lot_id, -1.0).any():
            n_open = int((cells & rules.open_ground).sum())
            shares = {k: float(m.sum()) / n_open for k, m in rules.rejected(lot_id, 0.0).items()}
            if (reason := reason_of(shares)) is not None:
                rounded = {k: round(v, 3) for k, v in shares.items() if v > 0}
                cannot.append({"lot_id": lot_id, "reason": reason, "rejected_frac": rounded})
    return {
        "rules": {
            "hydrologic_groups": ["A", "B"],
            "dual_groups": "undrained, so treated as D",
            "slope_pct_below": SLOPE_LIMIT_PCT,
            **{f"setback_{k}_m": v for k, v in SETBACK_M.items()},
        },
        "margin": f"can: at least {ROOM_M2:g} m2 in one piece with setbacks 1 m longer and slope 3 points "
        "lower; cannot: no cell left with setbacks 1 m shorter and slope 3 points higher",
        "can": can,
        "cannot": cannot,
    }


def reason_of(shares: dict[str, float]) -> str | None:
    """The one reason that stands for the whole lot; none where soils are mixed."""
    soils = {k: v for k, v in shares.items() if k.startswith("hydrologic group")}
    key = max(soils, key=lambda k: soils[k])
    if soils[key] >= 0.999:
        return "unknown soil, not assessed" if key.endswith("unknown") else key
    if sum(soils.values()) > 0.0:
        return None
    return "too steep outside the setbacks" if shares["slope"] >= 0.35 else "no room outside the setbacks"


def build_truth(g: Ground, lots: list[Lot], drives: dict[str, Drive], noisy: np.ndarray) -> dict[str, object]:
    """Everything planted, with its numbers."""
    masks = Masks(g, lots)
    by_id = {lot.spec.lot_id: lot for lot in lots}
    bowl = bowl_centre(by_id)
    line, sizes = culvert()
    behind = np.array(line.coords[0])
    depths = wall_depths(g.z, masks)
    swale = next(lot for lot in lots if lot.spec.house == "swale")
    hollow = next(lot for lot in lots if lot.spec.house == "low_spot")
    house = f"H-{hollow.number}"
    void = void_mask(g)
    return {
        "about": "Planted in the sample: measured on the noise-free surface, after_noise on elevation.tif",
        "units": UNITS,
        "crs": CRS,
        "closed_depression": {
            "id": "bowl",
            "lot_id": BOWL_LOT,
            **xy(bowl),
            **low_spot(g.z, g, bowl),
            "after_noise": low_spot(noisy, g, bowl),
        },
        "low_spot_house": {
            "structure_id": house,
            "lot_id": hollow.spec.lot_id,
            **xy(np.array(hollow.house.centroid.coords[0])),
            "depth_at_wall_m": depths[house],
        },
        "swale_house": {**swale_house(g.z, masks, swale), "depth_at_wall_m": depths[f"H-{swale.number}"]},
        "depth_at_walls_m": {
            "note": "greatest depth beside the walls when every pond is full, buildings standing as walls",
            "all": depths,
            "in_a_low_spot": {k: d for k, d in depths.items() if d >= 0.25},
            "clear_of_ponds": [k for k, d in depths.items() if d <= 0.05],
        },
        "garages": driveway_truth(drives, by_id),
        "embankment": {
            "id": "lane",
            "lane": [list(xy(np.array(p)).values()) for p in LANE.coords],
            **xy(lane_crossing()),
            "without_culvert": {**xy(behind), **low_spot(g.z, g, behind)},
            "culvert": {
                "drain_id": "K-1",
                **sizes,
                "line": [list(xy(np.array(p)).values()) for p in line.coords],
            },
        },
        "infiltration": infiltration_truth(InfiltrationRules(g, masks, lots)),
        "run_on": run_on_truth((g.z, noisy), masks, lots),
        "voids": {"n_cells": int(void.sum()), "nodata": -9999},
    }
