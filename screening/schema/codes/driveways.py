"""Codes of driveways: their shape, what their edges shed to, and how their peaks were found."""

from __future__ import annotations

from enum import StrEnum


class DrivewayForm(StrEnum):
    """How a driveway falls across."""

    PLANAR = "planar to one side"
    CROWNED = "crowned"
    TROUGH = "trough"
    NOT_ASSESSED = "not assessed"


class ShedsTo(StrEnum):
    """What may lie beyond an edge; the first that is there counts."""

    GARAGE = "garage"
    STRUCTURE = "structure"
    STREET = "street"
    DRIVEWAY = "driveway"
    NEIGHBOUR = "neighbour"
    STREET_OR_NEIGHBOUR = "street or neighbour"
    """Without roads, land beyond the lot may be either."""
    LOW_SPOT = "low spot"
    LAWN = "lawn"

    @property
    def is_wall(self) -> bool:
        """True for what makes the garage line."""
        return self in (ShedsTo.GARAGE, ShedsTo.STRUCTURE)


class ShareGroup(StrEnum):
    """Where water goes, as columns of shares tell it apart."""

    WALL = "wall"
    STREET = "street"
    NEIGHBOUR = "neighbour"
    BEYOND = "beyond"
    LOW_SPOT = "low_spot"
    LAWN = "lawn"
    OTHER = "other"


GROUP_OF: dict[ShedsTo, ShareGroup] = {
    ShedsTo.GARAGE: ShareGroup.WALL,
    ShedsTo.STRUCTURE: ShareGroup.WALL,
    ShedsTo.STREET: ShareGroup.STREET,
    ShedsTo.DRIVEWAY: ShareGroup.OTHER,
    ShedsTo.NEIGHBOUR: ShareGroup.NEIGHBOUR,
    ShedsTo.STREET_OR_NEIGHBOUR: ShareGroup.BEYOND,
    ShedsTo.LOW_SPOT: ShareGroup.LOW_SPOT,
    ShedsTo.LAWN: ShareGroup.LAWN,
}
"""Group of what lies beyond an edge."""


class LowPointKind(StrEnum):
    """What a low point of a driveway is."""

    HOLDS_WATER = "holds water"
    LOWEST = "lowest ground"


class ShapeLimit(StrEnum):
    """What limits the numbers of a driveway; each with a number of its own, NaN where it has none."""

    NOT_ASKED = "not asked"
    NO_OPEN_GROUND = "no open ground"
    """Under a structure, or without elevation."""
    FEW_CELLS = "few cells"
    """How many."""
    NARROW = "narrow"
    """Width in cells."""
    BENT = "bent"
    PART_LEFT_OUT = "part left out"
    """Share of its area under a structure or without elevation."""
