"""Places that water may reach: wall sides, doors, ends of driveways; and what it does there."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from screening.errors import InputError
from screening.grid import rasterize
from screening.models import F32, I64, Block, Bool, Surface, freeze
from screening.models.motion import HazardClass, PlaceKind, PlaceSeries, ReachedPlace
from screening.motion.hazard import hazard_classes
from screening.motion.settings import MotionSettings
from screening.structures.walls import Walls

_END_CELLS = 1.5
"""An end of a driveway is as deep as this many cells: those that touch what it ends at, by side or corner."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Place:
    """Ground cells (flat indices, int64) that stand for a wall side, a door or an end of a driveway."""

    kind: PlaceKind
    owner_id: str
    name: str
    cells: I64

    def __post_init__(self) -> None:
        freeze(self.cells)


def find_places(
    block: Block, surface: Surface, walls: Walls, is_open: Bool, *, door_reach_m: float
) -> tuple[Place, ...]:
    """List the places of a block that have open ground.

    Parameters
    ----------
    block, surface, walls
        Of the same window.
    is_open
        Cells that can hold water.
    door_reach_m
        Farthest that a door without a structure may stand from one [m].

    Returns
    -------
    Wall sides, then doors, then driveways' ends at a structure and at the street.
    """
    is_flat = is_open.ravel()
    start, cells = walls.cells_by_side()
    ids = block.structures["structure_id"]
    places = [
        Place(
            kind=PlaceKind.WALL_SIDE,
            owner_id=str(ids.iloc[side.structure]),
            name=side.name,
            cells=cells[start[i] : start[i + 1]],
        )
        for i, side in enumerate(walls.sides)
    ]
    places += _doors(block, walls, door_reach_m)
    places += _driveway_ends(block, surface)
    kept = [(place, place.cells[is_flat[place.cells]]) for place in places]
    return tuple(
        Place(kind=place.kind, owner_id=place.owner_id, name=place.name, cells=own) for place, own in kept if own.size
    )


def _doors(block: Block, walls: Walls, reach_m: float) -> list[Place]:
    """The ground cell beside the wall of its structure that is nearest to each door."""
    grid, ids = block.grid, block.structures["structure_id"]
    places = []
    for door in block.doors.itertuples():
        if door.structure_id:
            rows = np.flatnonzero((ids == door.structure_id).to_numpy(bool))
        else:
            away = block.structures.geometry.distance(door.geometry).to_numpy(float)
            rows = np.flatnonzero(away == away.min())[:1] if away.size and away.min() <= reach_m else np.empty(0, int)
        number = np.flatnonzero(walls.structure == rows[0]) if rows.size else rows
        ring = walls.ring_of(int(number[0])) if number.size else np.empty(0, np.int64)
        if ring.size:
            row, col = np.divmod(ring, grid.n_cols)
            x, y = grid.x_of(0) + col * grid.cell_m, grid.y_of(0) - row * grid.cell_m
            # Rounded, so that of cells equally near the first is taken whatever the size of the coordinates.
            away = np.round(np.hypot(x - door.geometry.x, y - door.geometry.y), 6)
            nearest = ring[away.argmin() : away.argmin() + 1]
            places.append(Place(kind=PlaceKind.DOOR, owner_id=str(door.door_id), name=str(door.kind), cells=nearest))
    return places


def _driveway_ends(block: Block, surface: Surface) -> list[Place]:
    """Cells of each driveway on a chosen lot that touch a structure, and those that touch the street.

    Without roads, the street end is what lies farthest from the structure, by as much as an end is deep.
    """
    from scipy import ndimage

    grid, around = block.grid, np.ones((3, 3), bool)
    drives = block.driveways[block.driveways["lot_id"] != ""]
    label = rasterize(grid, list(drives.geometry), range(1, len(drives) + 1))
    label[surface.structure_index > 0] = 0
    by_wall = ndimage.binary_dilation(surface.structure_index > 0, around)
    roads = list(block.roads.geometry)
    by_road = ndimage.binary_dilation(rasterize(grid, roads, [1] * len(roads)) > 0, around)
    places = []
    for number, driveway_id in enumerate(drives["driveway_id"].astype(str), start=1):
        own = label == number
        house = np.flatnonzero(own & by_wall).astype(np.int64)
        street = np.flatnonzero(own & by_road).astype(np.int64)
        if not street.size and house.size:
            row, col = np.nonzero(own)
            at = np.array(np.divmod(house, grid.n_cols)).mean(axis=1)
            away = np.hypot(row - at[0], col - at[1])
            street = (row * grid.n_cols + col)[away >= away.max() - _END_CELLS].astype(np.int64)
        places.append(Place(kind=PlaceKind.DRIVEWAY_HOUSE_END, owner_id=driveway_id, name="", cells=house))
        places.append(Place(kind=PlaceKind.DRIVEWAY_STREET_END, owner_id=driveway_id, name="", cells=street))
    return places


def check_driveways(block: Block, settings: MotionSettings) -> bool:
    """Refuse cells too large for a driveway; say whether some are narrow.

    Parameters
    ----------
    block
        Driveways on chosen lots count. A driveway's width is twice its area over its perimeter.
    settings
        `driveway_cells_min`, `driveway_cells_few`.

    Raises
    ------
    InputError
        The cells are so large that a driveway is no wider than a cell or so: water would run beside it.
    """
    drives = block.driveways[block.driveways["lot_id"] != ""]
    if not len(drives):
        return False
    cells = (2.0 * drives.geometry.area / drives.geometry.length).to_numpy(float) / block.grid.cell_m
    narrowest = int(cells.argmin())
    if cells[narrowest] < settings.driveway_cells_min:
        name, cell_m = drives["driveway_id"].iloc[narrowest], block.grid.cell_m
        raise InputError(
            f"The cells are too large for driveway {name}",
            got=f"{cell_m:g} m cells and a driveway {cells[narrowest] * cell_m:.1f} m wide",
            expected=f"cells of at most {cells[narrowest] * cell_m / settings.driveway_cells_min:.2g} m",
            mend="use finer elevation, or leave the driveway out",
        )
    return bool((cells < settings.driveway_cells_few).any())


@dataclass(frozen=True, kw_only=True, eq=False)
class PlaceRecorder:
    """Keeps what stands and runs at places at each output."""

    places: tuple[Place, ...]
    time_s: list[float] = field(default_factory=list)
    depth_m: list[F32] = field(default_factory=list)
    unit_flow_m2_s: list[F32] = field(default_factory=list)

    def __call__(self, time_s: float, depth_m: F32, flow_x: F32, flow_y: F32) -> None:
        """Note one output."""
        if not self.places:
            return
        cells = np.concatenate([place.cells for place in self.places])
        start = np.cumsum([0, *(place.cells.size for place in self.places)])[:-1]
        row, col = np.divmod(cells, depth_m.shape[1])
        flow = np.hypot(flow_x[row, col] + flow_x[row, col + 1], flow_y[row, col] + flow_y[row + 1, col]) * np.float32(
            0.5
        )
        self.time_s.append(time_s)
        self.depth_m.append(np.maximum.reduceat(depth_m[row, col], start))
        self.unit_flow_m2_s.append(np.maximum.reduceat(flow, start))

    def series(self) -> PlaceSeries:
        """What was noted."""
        shape = len(self.time_s), len(self.places)
        depth, flow = (np.array(rows, np.float32).reshape(shape) for rows in (self.depth_m, self.unit_flow_m2_s))
        return PlaceSeries(np.array(self.time_s) / 3600.0, depth, flow)


def reach_places(
    places: tuple[Place, ...],
    *,
    depth_max_m: F32,
    speed_max_m_s: F32,
    unit_flow_max_m2_s: F32,
    arrival_h: F32,
    wet_h: F32,
    wet_depth_m: float,
) -> tuple[ReachedPlace, ...]:
    """Say what water does at each place: the largest of its cells, the first arrival, the longest wet.

    Parameters
    ----------
    places
        Of the window.
    depth_max_m, speed_max_m_s, unit_flow_max_m2_s, arrival_h, wet_h
        Grids of the window; an arrival is NaN where no water came.
    wet_depth_m
        Depth from which ground counts as wet [m].
    """
    found = []
    for place in places:
        at = np.divmod(place.cells, depth_max_m.shape[1])
        depth, speed, flow, wet = (
            float(values[at].max()) for values in (depth_max_m, speed_max_m_s, unit_flow_max_m2_s, wet_h)
        )
        arrival = arrival_h[at]
        arrival = arrival[~np.isnan(arrival)]
        found.append(
            ReachedPlace(
                kind=place.kind,
                owner_id=place.owner_id,
                name=place.name,
                cells=place.cells,
                depth_max_m=depth,
                speed_max_m_s=speed,
                unit_flow_max_m2_s=flow,
                arrival_h=float(arrival.min()) if arrival.size else float("nan"),
                wet_h=wet,
                hazard=HazardClass(int(hazard_classes(depth, speed, flow, wet_depth_m=wet_depth_m))),
            )
        )
    return tuple(found)
