"""Codes of trench drains: their parts, the use of the ground, the laws of inflow, and reasons of checks."""

from __future__ import annotations

from enum import StrEnum


class Part(StrEnum):
    """A part of a trench drain that may limit it."""

    GRATE = "grate"
    CHANNEL = "channel"
    PIPE = "pipe"


class Use(StrEnum):
    """Heaviest thing that the owner lets onto a grate."""

    WALKING = "walking"
    CARS = "cars"
    TRUCKS = "trucks"


class CloggingRule(StrEnum):
    """What debris takes of a grate."""

    PERIMETER = "perimeter"
    WIDTH = "width"


class InflowLaw(StrEnum):
    """The law by which water goes into a grate or slot."""

    WEIR = "weir"
    TRANSITION = "transition"
    ORIFICE = "orifice"


class CheckReason(StrEnum):
    """What a reader must know beside the numbers of a check; `report.words.hydraulics` says it.

    The facts that belong to a code stand beside it.
    """

    # depth_m of water over it, law, clogged_frac.
    GRATE_STATE = "state of the grate"
    FREE_FALL = "free fall at the outlet"
    # from_m, to_m: distances from the closed end between which it does.
    STANDS_ABOVE_GRATE = "water stands above the grate"
    BRIMFUL = "channel brimful"
    NO_PIPE = "no pipe given"
    # slope_frac.
    SLOPE_FOR_INFLOW = "slope for the inflow"
    NO_VELOCITY = "no velocity"
    CHANNEL_DEPTH_ALONE = "channel depth alone"
    CLOGS_IN_LOW_PLACES = "clogs in low places"
    NEEDS_PERMISSION = "needs permission"
    ASK_FOR_VEHICLE = "ask for the heaviest vehicle"
    # use, and load_class that it asks for.
    CLASS_FOR_USE = "class for the use"
    # outfall, and zone_id where it is one.
    RUNS_TO = "runs to"
    NO_LOW_PLACE = "no low place found"
    BEFORE_HELD_BACK = "before any is held back"
    NO_DRAIN_DEPTH = "no depth of the drain"
    NOT_FOLLOWED = "overflow not followed"
    NEIGHBOUR_LAND = "neighbouring land"
    NEVER_EMPTIES = "never empties"
    RATE_NOT_MEASURED = "rate not measured"
    WATER_DEPTH_UNKNOWN = "depth to groundwater unknown"
    ROCK_DEPTH_UNKNOWN = "depth to rock unknown"


class DrainCaution(StrEnum):
    """What an assessment of a trench drain says of its own limits."""

    NO_PIPE = "no pipe"
    FAST_SHEET = "fast sheet of water"
    STEADY_FLOW = "steady flow"
    SMALL_CHANNELS = "small channels"
    UPKEEP = "upkeep"
