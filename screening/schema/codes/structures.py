"""Codes of structures: what reaches them, and their sides. The values are what tables hold."""

from __future__ import annotations

from enum import StrEnum


class ExposureKind(StrEnum):
    """What reaches the walls of a structure, or one side of it."""

    PONDING = "ponding"
    RUN_ON = "run-on"
    LOW = "low"
    NOT_ASSESSED = "not assessed"

    @property
    def is_flagged(self) -> bool:
        """True where water stands against a wall or runs to it."""
        return self in (ExposureKind.PONDING, ExposureKind.RUN_ON)


class Side(StrEnum):
    """The main direction that a part of the wall faces, clockwise from north."""

    NORTH = "north"
    NORTH_EAST = "north-east"
    EAST = "east"
    SOUTH_EAST = "south-east"
    SOUTH = "south"
    SOUTH_WEST = "south-west"
    WEST = "west"
    NORTH_WEST = "north-west"
    ALL = "all sides"
    """The one side of a structure too small for cells to tell its sides apart."""


class StructureKind(StrEnum):
    """Kinds of structures that the method tells apart; others are names of their own."""

    GARAGE = "garage"
