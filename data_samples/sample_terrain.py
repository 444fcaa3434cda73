"""Ground of the invented neighbourhood: natural hillside, street, pads, driveways and planted features.

`design_surface` is free of noise; `with_noise` adds what a lidar survey adds. Arrays are (row, col), row 0
the northernmost.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from sample_layout import (
    CROWN_FALL,
    KERB_HEIGHT_M,
    KERB_OUTER_M,
    N_COLS,
    N_ROWS,
    PAVEMENT_HALF_M,
    STREET_HALF_M,
    SWALE_S_M,
    Lot,
    Street,
)
from scipy.ndimage import gaussian_filter, gaussian_filter1d
from shapely import LineString, Point, Polygon

SEED = 20260
GRADING_SLOPE = 0.3  # side slope of cuts and fills, rise over run
LANE = LineString([(166.0, 14.0), (154.0, 60.0), (149.0, 95.0), (142.0, 150.0)])
LANE_CREST_HALF_M = 2.0
LANE_CREST_ABOVE_BED_M = 1.8
CULVERT_HALF_LENGTH_M = 8.0
BOWL_LOT, BOWL_A_M, BOWL_B_M = "TR-14", -4.0, 54.0
BOWL_RADIUS_M, BOWL_DEPTH_M, BOWL_RIM_M = 6.0, 1.6, 2.5
STEEP_LOT, SWALE_LOT = "TR-11", "TR-07"
VOID_UV, VOID_SEMI_AXES_M = (606.0, 352.0), (5.2, 4.0)
CORNER_M = 24.0


@dataclass
class Ground:
    """The raster being graded, with the street's coordinates of each cell centre."""

    street: Street
    u: np.ndarray
    v: np.ndarray
    s: np.ndarray
    d: np.ndarray
    z: np.ndarray
    fixed: np.ndarray  # cells that the last smoothing leaves alone
    verge_m: np.ndarray  # elevation of the verge's outer edge at each cell's station

    def window(self, shape: Polygon | LineString | Point, margin_m: float) -> tuple[slice, slice]:
        """Rows and columns around a shape."""
        west, south, east, north = shape.bounds
        rows = slice(max(int(N_ROWS - north - margin_m), 0), int(N_ROWS - south + margin_m) + 1)
        cols = slice(max(int(west - margin_m), 0), int(east + margin_m) + 1)
        return rows, cols

    def distance(self, shape: Polygon | LineString, window: tuple[slice, slice]) -> np.ndarray:
        """Distance of the window's cell centres from a shape [m]."""
        return shapely.distance(shape, shapely.points(self.u[window], self.v[window]))


def smooth(x: np.ndarray, x0: float, x1: float) -> np.ndarray:
    t = np.clip((x - x0) / (x1 - x0), 0.0, 1.0)
    return t * t * (3 - 2 * t)


def stream_v(u: np.ndarray) -> np.ndarray:
    return 78.0 + 14.0 * np.sin(2 * np.pi * u / 310.0 + 0.6)


def stream_bed(u: np.ndarray) -> np.ndarray:
    return 100.0 + 0.014 * u


def fractal(rng: np.random.Generator, *, exponent: float, longest_m: float, shortest_m: float) -> np.ndarray:
    """Unit-variance random relief with a power-law spectrum between two wavelengths."""
    rows, cols = 1024, 1024
    freq = np.hypot(np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(cols)[None, :])
    band = (freq >= 1 / longest_m) & (freq <= 1 / shortest_m)
    amplitude = np.where(band, np.maximum(freq, 1 / longest_m) ** -exponent, 0.0)
    field = np.fft.irfft2(np.fft.rfft2(rng.standard_normal((rows, cols))) * amplitude, s=(rows, cols))
    field = field[:N_ROWS, :N_COLS]
    return (field - field.mean()) / field.std()


def natural_hill(u: np.ndarray, v: np.ndarray, street: Street, lots: dict[str, Lot]) -> np.ndarray:
    """Hillside above a stream valley, with a draw, a spur, a swale and a steep bank; no fine relief."""
    s, d = street.locate_across_hill(u, v)
    meanders = 1.0 - smooth(np.abs(v - 78.0), 30.0, 140.0)
    dn = v - 78.0 - meanders * (stream_v(u) - 78.0)
    rise = np.where(dn > 0, 0.070, 0.085) * (np.hypot(dn, 15.0) - 15.0)
    z = stream_bed(u) + rise - 0.6 * np.exp(-((dn / 1.8) ** 2)) + 0.009 * u * smooth(v, 110.0, 240.0)
    z += 0.018 * 30 * np.logaddexp(0.0, (dn - 260.0) / 30.0)
    off = s - SWALE_S_M - 7.0 * np.sin((np.abs(d) - 75.0) / 35.0) * smooth(np.abs(d), 75.0, 110.0)
    z -= smooth(v, 150.0, 190.0) * 1.0 * np.exp(-((off / 20.0) ** 2))
    z -= smooth(v, 95.0, 125.0) * 0.45 * np.exp(-((off / 2.6) ** 2))
    z += 1.1 * np.exp(-(((s - 335.0) / 45.0) ** 2)) * np.exp(-(((d + 38.0) / 24.0) ** 2))
    z -= upslope_swale(s, d, lots[SWALE_LOT])
    beside = np.abs(s - lots[STEEP_LOT].s_mid_m)
    bank = smooth(d, 26.0, 72.0) * (1.0 - smooth(d, 90.0, 300.0)) * (1.0 - smooth(beside, 18.0, 80.0))
    return z + 7.5 * bank


def upslope_swale(s: np.ndarray, d: np.ndarray, lot: Lot) -> np.ndarray:
    """Depth of the swale that leads from the woodland to the back wall of one house [m]."""
    house_a = lot.frame.to_ab(np.array(lot.house.centroid.x), np.array(lot.house.centroid.y))[0]
    off = s - (lot.s_mid_m + float(house_a))
    width = 5.0 + 0.06 * np.maximum(d - 40.0, 0.0)
    depth = smooth(d, 30.0, 48.0) * (1.0 - smooth(d, 130.0, 210.0))
    return 0.8 * depth * np.exp(-((off / width) ** 2))


def new_ground(street: Street, lots: dict[str, Lot]) -> Ground:
    """Natural ground with its relief, damped where people mow and where the stream runs."""
    u, v = np.meshgrid(np.arange(N_COLS) + 0.5, N_ROWS - np.arange(N_ROWS) - 0.5)
    s, d = street.locate(u, v)
    g = Ground(street, u, v, s, d, np.zeros_like(u), np.zeros(u.shape, dtype=bool), np.zeros_like(u))
    rng = np.random.default_rng(SEED)
    relief = 0.36 * fractal(rng, exponent=1.8, longest_m=160.0, shortest_m=6.0)
    wild = np.maximum(smooth(d, 58.0, 85.0), smooth(-d, 62.0, 85.0))
    near_water = 1.0 - 0.9 * np.exp(-(((v - stream_v(u)) / 25.0) ** 2))
    near_swale = 1.0 - 0.8 * np.exp(-(((s - SWALE_S_M) / 9.0) ** 2))
    g.z = natural_hill(u, v, street, lots) + relief * (0.22 + 0.78 * wild) * near_water * near_swale
    return g


def street_profile(g: Ground, lots: dict[str, Lot]) -> np.ndarray:
    """Elevation of the centreline at each station: smoothed ground, with a sag where the swale crosses."""
    ground = natural_hill(g.street.xy[:, 0], g.street.xy[:, 1], g.street, lots)
    sag = 0.4 * np.exp(-(((g.street.s - SWALE_S_M) / 14.0) ** 2))
    return gaussian_filter1d(ground, 14.0 / 0.25, mode="nearest") - sag


def grade_street(g: Ground, profile: np.ndarray) -> None:
    """Crown, curb and verge of the street, tied to the ground on both sides; the swale crosses it."""
    centre = np.interp(g.s, g.street.s, profile)
    side = np.abs(g.d)
    gutter = centre - CROWN_FALL * PAVEMENT_HALF_M
    verge_top = gutter + KERB_HEIGHT_M + 0.02 * (STREET_HALF_M - KERB_OUTER_M)
    g.verge_m = verge_top
    beyond = np.maximum(side - STREET_HALF_M, 0.0)
    near = side < 60.0
    reach = 0.22 * beyond + 0.01 * beyond**2  # side slopes open out, so that no scarp marks their end
    tied = np.clip(g.z, verge_top - reach, verge_top + reach)
    g.z = np.where(near, tied, g.z)
    g.z = np.where(side <= STREET_HALF_M, gutter + KERB_HEIGHT_M + 0.02 * (side - KERB_OUTER_M), g.z)
    off = np.abs(g.s - SWALE_S_M)
    fade = 1.5 * smooth(side, 28.0, 58.0)
    side_slope = 0.28 * np.maximum(off - 1.2, 0.0)
    outward = side - PAVEMENT_HALF_M
    above = gutter + 0.07 + 0.062 * outward
    below = gutter - 0.06 - 0.055 * outward
    upper = (g.d > 0) & (outward > 0) & (off < 9.0)
    g.z = np.where(upper & (outward < 55.0), np.minimum(g.z, above + side_slope + fade), g.z)
    g.z = np.where(upper & (outward < 22.0), np.maximum(g.z, above), g.z)
    lower = (g.d < 0) & (outward > 0) & (outward < 40.0) & (off < 9.0)
    g.z = np.where(lower, np.minimum(g.z, below + side_slope), g.z)
    dip = np.exp(-((off / 5.0) ** 4))  # the crown gives way to one plane, so that the swale's water crosses
    pavement = centre - (1.0 - dip) * CROWN_FALL * side + dip * (0.015 * g.d - 0.07)
    g.z = np.where(side <= PAVEMENT_HALF_M, pavement, g.z)
    g.fixed |= side <= KERB_OUTER_M + 0.5


@dataclass(frozen=True)
class Drive:
    """Surface of one driveway in its lot's frame."""

    lot: Lot
    gutter_m: float
    street_grade: float

    def elevation(self, a: np.ndarray, b: np.ndarray) -> np.ndarray:
        """Apron, then an even grade to the garage door, with a cross fall of 1 percent."""
        spec = self.lot.spec
        grade = spec.grade_pct / 100.0
        if spec.takes_street_water:
            z = self.gutter_m + grade * (b - PAVEMENT_HALF_M)
        else:
            apron = self.gutter_m + 0.02 + 0.14 * smooth(b, KERB_OUTER_M - 0.5, STREET_HALF_M)
            z = apron + grade * np.maximum(b - STREET_HALF_M, 0.0)
        off = np.clip(a - self.lot.drive_a_m, -spec.drive_w_m / 2, spec.drive_w_m / 2)
        fade = smooth(b, PAVEMENT_HALF_M, STREET_HALF_M + 2.0)
        return z + off * (self.street_grade * (1.0 - fade) + 0.01 * fade)

    @property
    def floor_m(self) -> float:
        """Garage floor, where the driveway ends [m]."""
        return float(self.elevation(np.array(self.lot.drive_a_m), np.array(self.lot.garage_front_m)))


def plan_drive(g: Ground, profile: np.ndarray, lot: Lot) -> Drive:
    """Tie the driveway of a lot to the gutter in front of it."""
    at = lot.frame.origin + lot.drive_a_m * lot.frame.along
    s = float(g.street.locate(at[0], at[1])[0])
    ends = np.interp([s - 4.0, s, s + 4.0], g.street.s, profile)
    return Drive(lot, float(ends[1]) - CROWN_FALL * PAVEMENT_HALF_M, float(ends[2] - ends[0]) / 8.0)


def grade_pad(g: Ground, lot: Lot, floor_m: float) -> None:
    """Level pad under house and garage, ground that falls away from the walls, cut and fill beyond."""
    footprint = shapely.union_all([lot.house, lot.garage])
    window = g.window(footprint, 40.0)
    dist = g.distance(footprint, window)
    a, b = lot.frame.to_ab(g.u[window], g.v[window])
    front, back = lot.spec.front_m, lot.spec.front_m + lot.spec.house_d_m
    downhill = (back - b) if lot.spec.is_upper else (b - front)
    along = np.clip(downhill, -3.0, lot.spec.house_d_m + 3.0) + 3.0
    sideways = np.minimum(np.abs(a), 14.0)
    fall_away = np.full_like(dist, 0.05)
    reverse_in_cut = lot.spec.is_upper and lot.spec.grade_pct < 0
    if reverse_in_cut:  # the front yard is cut too, so that it drains along the verge and no pond stands
        fall_away = np.full_like(dist, 0.03)
    lateral, downslope = (0.008, 0.0) if reverse_in_cut else (0.012, 0.012)
    if lot.spec.house == "swale":
        fall_away = np.where(downhill < 0, -0.03, 0.05)
    shelf_m = 3.0
    shelf = floor_m - 0.02 - fall_away * np.minimum(dist, shelf_m) - lateral * sideways - downslope * along
    if lot.spec.house == "low_spot":
        shelf = np.full_like(dist, floor_m - 0.02)
    slope = GRADING_SLOPE * np.maximum(dist - shelf_m, 0.0)
    outside = GRADING_SLOPE * np.maximum(np.abs(a) - lot.spec.frontage_m / 2 + 2.0, 0.0)
    cut_slope = np.where((b < front) & reverse_in_cut, np.minimum(slope, 2 * outside), slope)
    graded = np.clip(g.z[window], shelf - slope, shelf + cut_slope)
    if not lot.spec.is_upper and (lot.spec.grade_pct > 0 or lot.spec.house == "low_spot"):
        yard_fall = 0.03 if lot.spec.grade_pct > 0 else -0.02
        yard = g.verge_m[window] + yard_fall * (b - STREET_HALF_M) - outside
        graded = np.where((b < front - 3.0) & (dist > 3.0), np.maximum(graded, yard), graded)
    graded = np.where(np.abs(g.d[window]) <= STREET_HALF_M, g.z[window], graded)
    if lot.spec.house == "low_spot":
        notch = (np.abs(a) < 2.0) & (b > back)
        bank = floor_m + np.where(notch, 0.42, 0.55)
        ring = np.minimum(floor_m - 0.02 + GRADING_SLOPE * np.maximum(dist - 3.0, 0.0), bank)
        graded = np.maximum(graded, ring - GRADING_SLOPE * np.maximum(dist - 6.5, 0.0))
        graded = np.where(notch, np.minimum(graded, ring), graded)
    graded = np.where(dist == 0.0, floor_m, graded)
    g.z[window] = graded
    g.fixed[window] |= dist <= 0.8


def grade_shed(g: Ground, lot: Lot) -> None:
    window = g.window(lot.shed, 12.0)
    dist = g.distance(lot.shed, window)
    floor = float(g.z[window][dist == 0.0].mean())
    slope = GRADING_SLOPE * np.maximum(dist - 1.0, 0.0) + 0.04 * np.minimum(dist, 1.0)
    graded = np.clip(g.z[window], floor - slope, floor + slope)
    g.z[window] = np.where(dist == 0.0, floor, graded)


def grade_drive(g: Ground, drive: Drive) -> None:
    """Driveway surface and its flanks; a driveway that falls to the garage is edged by raised strips."""
    lot = drive.lot
    window = g.window(lot.drive, 12.0)
    dist = g.distance(lot.drive, window)
    a, b = lot.frame.to_ab(g.u[window], g.v[window])
    surface = drive.elevation(a, b)
    walls = shapely.union_all([lot.house, lot.garage])
    built = g.distance(walls, window) == 0.0
    open_ground = ~built & (b > KERB_OUTER_M) & (dist < 10.0)
    slope = 0.03 + GRADING_SLOPE * dist
    z = g.z[window]
    flank = np.clip(z, surface - slope, surface + slope)
    lawn = open_ground & (dist > 0) & (b < lot.garage_front_m)
    z = np.where(lawn, flank, z)
    if lot.spec.grade_pct < 0:
        edging = lawn & (dist <= 1.7) & (b > STREET_HALF_M - 2.0)
        z = np.where(edging, np.maximum(z, surface + 0.10), z)
        g.fixed[window] |= edging
    inside = (dist == 0.0) & ~built
    g.z[window] = np.where(inside, surface, z)
    g.fixed[window] |= inside


def plant_lane(g: Ground) -> None:
    """Embankment of an old farm lane across the stream valley, a little lower near its north side."""
    window = g.window(LANE, 14.0)
    dist = g.distance(LANE, window)
    crossing = lane_crossing()
    t = np.hypot(g.u[window] - crossing[0], g.v[window] - crossing[1] - 8.0)
    crest = stream_bed(crossing[0]) - 0.6 + LANE_CREST_ABOVE_BED_M + 0.6 + 0.007 * t
    bank = crest - 0.5 * np.maximum(dist - LANE_CREST_HALF_M, 0.0)
    g.z[window] = np.where(dist < 12.0, np.maximum(g.z[window], bank), g.z[window])


def lane_crossing() -> np.ndarray:
    """Where the lane crosses the stream, local (u, v)."""
    u = np.arange(120.0, 200.0, 0.1)
    cut = LANE.intersection(LineString(np.column_stack([u, stream_v(u)])))
    return np.array([cut.x, cut.y])


def culvert_uv() -> np.ndarray:
    """Culvert line along the stream under the lane, upstream end first, local (u, v)."""
    crossing = lane_crossing()
    u = crossing[0] + np.array([CULVERT_HALF_LENGTH_M, -CULVERT_HALF_LENGTH_M])
    return np.column_stack([u, stream_v(u)])


def bowl_centre(lots: dict[str, Lot]) -> np.ndarray:
    frame = lots[BOWL_LOT].frame
    return frame.origin + BOWL_A_M * frame.along + BOWL_B_M * frame.out


def plant_bowl(g: Ground, lots: dict[str, Lot]) -> None:
    """Paraboloid hollow in a lawn terrace that falls 2 percent away from the house."""
    centre = bowl_centre(lots)
    window = g.window(Point(centre), 40.0)
    r = np.hypot(g.u[window] - centre[0], g.v[window] - centre[1])
    frame = lots[BOWL_LOT].frame
    b = frame.to_ab(g.u[window], g.v[window])[1]
    reach = BOWL_RADIUS_M + BOWL_RIM_M
    level = float(g.z[window][r < reach].mean()) - 0.3
    terrace = level - 0.02 * np.clip(b - BOWL_B_M, -reach, reach)
    slope = 0.25 * np.maximum(r - reach, 0.0)
    z = np.clip(g.z[window], terrace - slope, terrace + slope)
    hollow = BOWL_DEPTH_M * np.maximum(1.0 - (r / BOWL_RADIUS_M) ** 2, 0.0)
    g.z[window] = z - hollow


def design_surface(street: Street, lots: list[Lot]) -> tuple[Ground, dict[str, Drive]]:
    """The whole neighbourhood without noise, and the driveways by lot id."""
    by_id = {lot.spec.lot_id: lot for lot in lots}
    g = new_ground(street, by_id)
    profile = street_profile(g, by_id)
    grade_street(g, profile)
    drives = {lot.spec.lot_id: plan_drive(g, profile, lot) for lot in lots if lot.drive is not None}
    for lot_id, drive in drives.items():
        grade_pad(g, by_id[lot_id], drive.floor_m)
    for lot in lots:
        if lot.shed is not None:
            grade_shed(g, lot)
    plant_bowl(g, by_id)
    for drive in drives.values():
        grade_drive(g, drive)
    plant_lane(g)
    g.z = np.where(g.fixed, g.z, gaussian_filter(g.z, 0.8))
    return g, drives


def void_mask(g: Ground) -> np.ndarray:
    """Cells without a return: a small pond east of the street, and the north-east corner."""
    (u0, v0), (ru, rv) = VOID_UV, VOID_SEMI_AXES_M
    pond = ((g.u - u0) / ru) ** 2 + ((g.v - v0) / rv) ** 2 <= 1.0
    return pond | ((N_COLS - g.u) + (N_ROWS - g.v) < CORNER_M)


def with_noise(z: np.ndarray) -> np.ndarray:
    """Survey error: 1.5 cm correlated over some metres and 0.8 cm per cell; kept to the centimetre."""
    rng = np.random.default_rng(SEED + 1)
    patchy = 0.015 * fractal(rng, exponent=1.2, longest_m=60.0, shortest_m=4.0)
    return np.round(z + patchy + 0.008 * rng.standard_normal(z.shape), 2)
