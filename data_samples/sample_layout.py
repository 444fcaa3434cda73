"""Plan of the invented neighbourhood: the street, the lots, the houses, garages and driveways.

Everything here is in local metres: `u` to the east and `v` to the north of the raster's south-west corner.
Along the street the plan uses a frame per lot: `a` along the street (east), `b` away from its centreline.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree
from shapely import Polygon
from shapely.geometry.polygon import orient

N_ROWS, N_COLS = 520, 640
WEST_M, SOUTH_M = 712_400.0, 3_580_000.0
CRS = "EPSG:26917"

PAVEMENT_HALF_M = 3.5
KERB_OUTER_M = 4.5
STREET_HALF_M = 8.0  # street right-of-way: pavement, curb and verge
CROWN_FALL = 0.02
KERB_HEIGHT_M = 0.13
GARAGE_M = 7.0

FIRST_LOT_S_M = 28.0
EASEMENT_M = 8.0  # strip between the fifth and the sixth lot of each row, for the swale
SWALE_S_M = 212.0


@dataclass(frozen=True)
class LotSpec:
    """One lot: its frontage, and the house, garage and driveway on it (none when `house_w_m` is 0)."""

    lot_id: str
    frontage_m: float
    grade_pct: float  # along the driveway, positive where it rises from the street to the garage
    house_w_m: float = 14.0
    house_d_m: float = 11.0
    front_m: float = 23.0  # centreline to front wall
    garage_side: int = 1  # +1 east, -1 west of the house
    garage_step_m: float = 0.0  # positive: garage front stands behind the house front
    gap_m: float = 0.0  # positive: detached garage
    drive_w_m: float = 4.0
    takes_street_water: bool = False  # driveway falls straight from the gutter
    house: str = "plain"  # plain | low_spot | swale
    shed_ab: tuple[float, float] | None = None

    @property
    def is_upper(self) -> bool:
        """Whether the lot lies on the uphill side of the street."""
        return int(self.lot_id[3:]) <= 12


UPPER = (
    LotSpec("TR-01", 36, 8.0, front_m=22, drive_w_m=3.5, shed_ab=(-9.0, 46.0)),
    LotSpec("TR-02", 35, 9.0, garage_side=-1, front_m=24, garage_step_m=-2.0),
    LotSpec("TR-03", 38, 9.5, 13.0, 10.0, front_m=23, gap_m=3.0, garage_step_m=4.0),
    LotSpec("TR-04", 34, 10.0, 13.0, front_m=22, drive_w_m=5.0, shed_ab=(6.0, 50.0)),
    LotSpec("TR-05", 37, 8.0, 15.0, garage_side=-1, front_m=25, drive_w_m=3.0),
    LotSpec("TR-06", 37, -4.5, 14.0, front_m=17, garage_side=1, drive_w_m=5.0),
    LotSpec("TR-07", 34, 10.5, 14.0, front_m=24, garage_side=-1, house="swale"),
    LotSpec("TR-08", 36, 8.5, 15.0, 12.0, front_m=23, drive_w_m=6.0, garage_step_m=2.0),
    LotSpec("TR-09", 35, -4.5, 14.0, front_m=17, drive_w_m=5.5),
    LotSpec("TR-10", 38, 9.5, 16.0, front_m=22, garage_side=-1, drive_w_m=4.5, shed_ab=(8.0, 48.0)),
    LotSpec("TR-11", 34, 10.5, 13.0, 10.0, front_m=22, drive_w_m=3.5),
    LotSpec("TR-12", 36, 0.0, house_w_m=0.0),
)
LOWER = (
    LotSpec("TR-13", 34, -7.0, 13.0, front_m=24, drive_w_m=4.0, takes_street_water=True),
    LotSpec("TR-14", 38, -9.0, 15.0, front_m=22, garage_side=-1, drive_w_m=5.0, garage_step_m=-2.0),
    LotSpec("TR-15", 36, -6.0, 14.0, front_m=24, drive_w_m=3.0, shed_ab=(-8.0, 48.0)),
    LotSpec("TR-16", 37, -10.0, 14.0, 12.0, front_m=23, drive_w_m=5.5),
    LotSpec("TR-17", 35, -5.5, 13.0, front_m=22, garage_side=-1, drive_w_m=4.0),
    LotSpec("TR-18", 34, -8.0, 13.0, front_m=24, drive_w_m=4.5, garage_step_m=2.0),
    LotSpec("TR-19", 36, -6.0, 14.0, 11.0, front_m=23, drive_w_m=5.0, house="low_spot"),
    LotSpec("TR-20", 38, 4.5, 15.0, front_m=23, garage_side=-1, drive_w_m=5.0),
    LotSpec("TR-21", 35, 5.0, 14.0, front_m=24, drive_w_m=4.0, shed_ab=(-6.0, 44.0)),
    LotSpec("TR-22", 33, 4.5, 13.0, 10.0, front_m=22, drive_w_m=3.5),
    LotSpec("TR-23", 37, -11.0, 14.0, front_m=22, drive_w_m=5.0, takes_street_water=True),
    LotSpec("TR-24", 37, -7.0, 15.0, 12.0, front_m=23, garage_side=-1, drive_w_m=6.0),
)


def stations(xy: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Distance along a line from its first crossing of u = 0, and its unit tangents."""
    s = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    s -= s[np.argmax(xy[:, 0] >= 0.0)]
    tangent = np.gradient(xy, s, axis=0)
    return s, tangent / np.hypot(tangent[:, 0], tangent[:, 1])[:, None]


def along_and_across(xy: np.ndarray, u: np.ndarray, v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Distance along a line and signed distance from it, positive on its left [m]."""
    s, tangent = stations(xy)
    points = np.column_stack([np.ravel(u), np.ravel(v)])
    _, nearest = cKDTree(xy).query(points)
    delta, t = points - xy[nearest], tangent[nearest]
    along = s[nearest] + (delta * t).sum(axis=1)
    across = t[:, 0] * delta[:, 1] - t[:, 1] * delta[:, 0]
    return along.reshape(np.shape(u)), across.reshape(np.shape(u))


class Street:
    """Centreline of Larkspur Lane: across the hill in a gentle double bend, then up the hill and out."""

    def __init__(self) -> None:
        u = np.arange(-40.0, 500.0, 0.25)
        wave = 2 * np.pi / 520.0
        across = np.column_stack([u, 262.0 + 9.0 * np.sin(wave * (u - 60.0))])
        u_hill = np.arange(-40.0, 720.0, 0.25)
        hill = np.column_stack([u_hill, 262.0 + 9.0 * np.sin(wave * (u_hill - 60.0))])
        heading = np.arctan(9.0 * wave * np.cos(wave * (500.0 - 60.0)))
        radius = 48.0
        turn = np.arange(heading, np.radians(84.0), 0.25 / radius)
        centre = across[-1] + radius * np.array([-np.sin(heading), np.cos(heading)])
        bend = centre + radius * np.column_stack([np.sin(turn), -np.cos(turn)])
        ahead = np.arange(0.25, 260.0, 0.25)[:, None]
        uphill = bend[-1] + ahead * np.array([np.cos(turn[-1]), np.sin(turn[-1])])
        self.xy = np.vstack([across, bend[1:], uphill])
        self.s, self.tangent = stations(self.xy)
        self._hill = hill

    def locate(self, u: np.ndarray, v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Distance along the street, and signed distance from it (positive to the north-west) [m]."""
        return along_and_across(self.xy, u, v)

    def locate_across_hill(self, u: np.ndarray, v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The same as if the street went on across the hill: one smooth frame for the whole hillside."""
        return along_and_across(self._hill, u, v)

    def point(self, s: float | np.ndarray, d: float | np.ndarray) -> np.ndarray:
        """Local (u, v) of a place given along and across the street."""
        x, y = (np.interp(s, self.s, self.xy[:, k]) for k in (0, 1))
        tx, ty = (np.interp(s, self.s, self.tangent[:, k]) for k in (0, 1))
        return np.stack([x - d * ty, y + d * tx], axis=-1)

    def pavement(self) -> Polygon:
        """Curb to curb, cut at the raster's edge."""
        s = np.arange(self.s[0], self.s[-1], 3.0)
        ring = np.vstack([self.point(s, PAVEMENT_HALF_M), self.point(s[::-1], -PAVEMENT_HALF_M)])
        return Polygon(ring).intersection(Polygon([(0, 0), (N_COLS, 0), (N_COLS, N_ROWS), (0, N_ROWS)]))


@dataclass(frozen=True)
class Frame:
    """Right-angled frame of one lot: `a` along the street, `b` away from it."""

    origin: np.ndarray
    along: np.ndarray
    out: np.ndarray

    def polygon(self, ab: list[tuple[float, float]]) -> Polygon:
        """Polygon from corners in the frame."""
        return orient(Polygon([tuple(self.origin + a * self.along + b * self.out) for a, b in ab]))

    def to_ab(self, u: np.ndarray, v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Frame coordinates of local places."""
        du, dv = u - self.origin[0], v - self.origin[1]
        return du * self.along[0] + dv * self.along[1], du * self.out[0] + dv * self.out[1]


@dataclass(frozen=True)
class Lot:
    """A lot with everything that stands on it, as local polygons."""

    spec: LotSpec
    frame: Frame
    polygon: Polygon
    s_mid_m: float
    house: Polygon | None
    garage: Polygon | None
    shed: Polygon | None
    drive: Polygon | None
    drive_a_m: float  # axis of the driveway in the frame
    garage_front_m: float

    @property
    def number(self) -> str:
        """Two digits that the ids of everything on the lot share."""
        return self.spec.lot_id[3:]

    def structures(self) -> dict[str, Polygon]:
        """Structure ids with their footprints."""
        named = {"H": self.house, "G": self.garage, "S": self.shed}
        return {f"{key}-{self.number}": shape for key, shape in named.items() if shape is not None}


def rear_m(spec: LotSpec, s: np.ndarray) -> np.ndarray:
    """Distance of the rear lot line from the centreline: lots deepen to the east above, to the west below."""
    share = (s - FIRST_LOT_S_M) / 438.0
    return 50.0 + 14.0 * share if spec.is_upper else 72.0 - 22.0 * share


def lot_polygon(street: Street, spec: LotSpec, s0: float, s1: float) -> Polygon:
    """Ground between two normals of the street, from the verge to the rear line."""
    s = np.linspace(s0, s1, 7)
    side = 1.0 if spec.is_upper else -1.0
    front, rear = street.point(s, side * STREET_HALF_M), street.point(s, side * rear_m(spec, s))
    return orient(Polygon(np.vstack([front, rear[::-1]])))


def rectangle(a0: float, a1: float, b0: float, b1: float) -> list[tuple[float, float]]:
    return [(a0, b0), (a1, b0), (a1, b1), (a0, b1)]


def with_shared_corners(ring: list[tuple[float, float]], other: list[tuple[float, float]]) -> list:
    """The ring with the other's corners that lie on its sides, so that touching walls share vertices."""
    out: list[tuple[float, float]] = []
    for (a0, b0), (a1, b1) in zip(ring, ring[1:] + ring[:1], strict=True):
        out.append((a0, b0))
        on_side = [(a, b) for a, b in other if a == a0 == a1 and min(b0, b1) < b < max(b0, b1)]
        out += sorted(on_side, key=lambda ab: abs(ab[1] - b0))
    return out


def build_lot(street: Street, spec: LotSpec, s0: float) -> Lot:
    """Lay out one lot that begins at `s0` along the street."""
    s1, s_mid = s0 + spec.frontage_m, s0 + spec.frontage_m / 2
    side = 1.0 if spec.is_upper else -1.0
    tangent = (street.point(s_mid + 0.5, 0.0) - street.point(s_mid - 0.5, 0.0)) / 1.0
    tangent = tangent / np.hypot(*tangent)
    frame = Frame(street.point(s_mid, 0.0), tangent, side * np.array([-tangent[1], tangent[0]]))
    polygon = lot_polygon(street, spec, s0, s1)
    if spec.house_w_m == 0:
        return Lot(
            spec=spec,
            frame=frame,
            polygon=polygon,
            s_mid_m=s_mid,
            house=None,
            garage=None,
            shed=None,
            drive=None,
            drive_a_m=0.0,
            garage_front_m=0.0,
        )
    half = (spec.house_w_m + spec.gap_m + GARAGE_M) / 2
    east_first = spec.garage_side > 0
    split = -half + (spec.house_w_m if east_first else GARAGE_M)
    far = split + spec.gap_m
    left, right = (-half, split), (far, half)
    house_a, garage_a = (left, right) if east_first else (right, left)
    garage_front = spec.front_m + spec.garage_step_m
    house_ring = rectangle(*house_a, spec.front_m, spec.front_m + spec.house_d_m)
    garage_ring = rectangle(*garage_a, garage_front, garage_front + GARAGE_M)
    house = frame.polygon(with_shared_corners(house_ring, garage_ring))
    garage = frame.polygon(with_shared_corners(garage_ring, house_ring))
    axis = sum(garage_a) / 2
    w = spec.drive_w_m / 2
    drive = frame.polygon(rectangle(axis - w, axis + w, 2.0, garage_front)).difference(street.pavement().buffer(0.0))
    shed = None
    if spec.shed_ab is not None:
        a, b = spec.shed_ab
        shed = frame.polygon(rectangle(a - 3.0, a + 3.0, b - 2.5, b + 2.5))
    return Lot(
        spec=spec,
        frame=frame,
        polygon=polygon,
        s_mid_m=s_mid,
        house=house,
        garage=garage,
        shed=shed,
        drive=orient(drive),
        drive_a_m=axis,
        garage_front_m=garage_front,
    )


def build_lots(street: Street) -> list[Lot]:
    """All 24 lots, west to east, the upper row first."""
    lots = []
    for row in (UPPER, LOWER):
        s = FIRST_LOT_S_M
        for index, spec in enumerate(row):
            if index == 5:
                s += EASEMENT_M
            lots.append(build_lot(street, spec, s))
            s += spec.frontage_m
    return lots
