"""Codes of what is read from the user's files."""

from __future__ import annotations

from enum import StrEnum


class BarrierKind(StrEnum):
    """Kinds of barriers that are treated as such; any other word of the file is kept as it is."""

    CURB = "curb"
    BARRIER = "barrier"


class LotReason(StrEnum):
    """Why a lot of the layer cannot be screened; nothing where it can."""

    NONE = ""
    NO_POLYGON = "no usable polygon"
    NOT_ON_RASTER = "outside the elevation raster"


class VerticalUnit(StrEnum):
    """Units of elevations, by the words of `units.VERTICAL_UNITS_M`."""

    M = "m"
    FT = "ft"
    US_FT = "us-ft"
    CM = "cm"


class SoilGroup(StrEnum):
    """Hydrologic soil groups; dual ones hold only where the ground is drained (NEH 630 chapter 7)."""

    A = "A"
    B = "B"
    C = "C"
    D = "D"
    A_D = "A/D"
    B_D = "B/D"
    C_D = "C/D"
    UNKNOWN = "unknown"

    @property
    def undrained(self) -> SoilGroup:
        """The group of ground that is not drained: D for dual ones."""
        return SoilGroup.D if self in (SoilGroup.A_D, SoilGroup.B_D, SoilGroup.C_D) else self


class StructureKind(StrEnum):
    """What a structure is, as far as its words say."""

    HOUSE = "house"
    GARAGE = "garage"
    SHED = "shed"
    STRUCTURE = "structure"
