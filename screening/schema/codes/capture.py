"""Codes of ground that may take water, of where water is caught, and of storage on a lot."""

from __future__ import annotations

from enum import StrEnum


class Rejection(StrEnum):
    """Why a cell is no candidate, in the order in which a first reason is named."""

    OUTSIDE_LOTS = "outside the lots"
    NO_ELEVATION = "no elevation"
    COVERED = "under a structure or pavement"
    TREES = "under trees"
    SOIL_GROUP = "soil group not a candidate"
    CONDUCTIVITY = "conductivity not a candidate"
    SOIL_UNKNOWN = "soil group unknown"
    GROUNDWATER = "groundwater too near"
    RESTRICTIVE_LAYER = "restrictive layer too near"
    STEEP = "too steep"
    NEAR_STRUCTURE = "too near a structure"
    NEAR_LOT_LINE = "too near a lot line"
    NEAR_WELL = "too near a well"
    NEAR_SEPTIC = "too near a septic field"
    NEAR_WETLAND = "too near a wetland"
    NEAR_UTILITY = "too near a utility"
    NEAR_STEEP_GROUND = "too near steep ground"
    LOW_SPOT = "in a low spot"
    SMALL_OR_NARROW = "too small or narrow"

    @property
    def bit(self) -> int:
        """Its bit in a raster of reasons."""
        return 1 << list(Rejection).index(self)


class ZoneStatus(StrEnum):
    """Whether a zone is a candidate."""

    CANDIDATE = "candidate"
    SOIL_NOT_ASSESSED = "soil not assessed"


class InfiltrationStatus(StrEnum):
    """Whether a lot has ground that may take water."""

    CANDIDATE = "candidate"
    NONE_FOUND = "none found"
    NOT_ASSESSED = "not assessed"


class RateBasis(StrEnum):
    """Where infiltration rates come from; none is measured on site."""

    UNKNOWN = "unknown"
    CONDUCTIVITY = "conductivity of the soils layer"
    URBAN_GROUP = "group of urban soil"


class ZoneSize(StrEnum):
    """How large a zone is beside the others of its lot."""

    ALONE = "alone"
    LARGEST = "largest"
    NOT_LARGEST = "not the largest"


class PointKind(StrEnum):
    """What water is caught at."""

    LOW_SPOT = "low spot"
    LINE = "interception line"
    DRIVEWAY = "driveway"
    DOWNSPOUT = "downspout"


class RouteKind(StrEnum):
    """What a route is for: a pipe to a zone, or overflow over ground from a zone."""

    COLLECTION = "collection"
    OVERFLOW = "overflow"


class RouteEnd(StrEnum):
    """What a route comes to first; empty = not shown yet."""

    NONE = ""
    ZONE = "zone"
    WALLS = "walls"
    LOW_SPOT = "low spot"
    OFF_LOT = "off the lot"
    WINDOW_EDGE = "edge of the window"


class StorageKind(StrEnum):
    """How storage is built; empty = it is not sized."""

    NONE = ""
    STONE = "stone"
    CHAMBERS = "chambers"


class StorageStatus(StrEnum):
    """What storage does, the best first; the last is said of a lot alone."""

    FITS = "fits"
    FITS_AT_FASTER_RATE = "fits at the faster rate only"
    TAKES_PART = "takes a part"
    NOT_NEEDED = "not needed"
    NOT_ASSESSED = "not assessed"
    TOO_SLOW = "empties too slowly"
    TOO_DEEP = "too deep"
    NO_ROOM = "does not fit"
    NO_WATER = "no water reaches it"
    NONE_FOUND = "none found"


class StorageReason(StrEnum):
    """Why storage has its status."""

    NO_POINT_REACHES = "no collection point reaches it"
    RATE_UNKNOWN = "rate unknown"
    NO_RUNOFF = "no runoff"
    BASE_TOO_DEEP = "base too deep"
    NO_ROOM_FOR_CHAMBER = "no room for a chamber"
    SLOW_AT_BOTH_RATES = "slow at both rates"
    SLOW_AT_SLOWER_RATE = "slow at the slower rate"
    PART_OF_ROOM = "part of the room"
    SMALL_AT_SLOWER_RATE = "small at the slower rate"
    ROOM_FOR_ALL = "room for all"


class StoneShare(StrEnum):
    """What of chambers is compared with a bed of stone alone."""

    FOOTPRINT = "footprint"
    DEPTH = "depth"
    EXCAVATION = "excavation"
    STONE = "washed stone"
    FABRIC = "non-woven fabric"


class LotStorageReason(StrEnum):
    """What stands behind the status of storage on a lot, or in its way."""

    GROUND_UNKNOWN = "ground unknown"
    NO_GROUND = "no ground"
    AS_STORAGE = "as its storage"
    NO_POINT = "no collection point"
    NO_ROUTE = "no route by gravity"
