"""Codes of buried storage: soils, sections, sides of a pit, rain over its hours, quantities and cautions."""

from __future__ import annotations

from enum import StrEnum


class SoilGroup(StrEnum):
    """Hydrologic soil group; a dual group drains as its first letter only where the ground is drained."""

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
        """The group as it is: a dual group counts as D."""
        return SoilGroup.D if self in (SoilGroup.A_D, SoilGroup.B_D, SoilGroup.C_D) else self


class KsatClass(StrEnum):
    """Class of a saturated conductivity."""

    VERY_LOW = "very low"
    LOW = "low"
    MODERATELY_LOW = "moderately low"
    MODERATELY_HIGH = "moderately high"
    HIGH = "high"
    VERY_HIGH = "very high"


class SectionShape(StrEnum):
    """Shape of a chamber or pipe, cut across."""

    BOX = "box"
    ARCH = "arch"
    HALF_ELLIPSE = "half-ellipse"
    ROUND = "round"
    GIVEN_AREA = "given area"


class PitSides(StrEnum):
    """How the sides of a pit stand."""

    UPRIGHT = "upright"
    SOIL_A = "soil A"
    SOIL_B = "soil B"
    SOIL_C = "soil C"
    UNKNOWN = "unknown"


class RainDistribution(StrEnum):
    """How rain is spread over its hours."""

    UNIFORM = "uniform"
    NESTED = "nested blocks"
    NRCS_I = "NRCS Type I"
    NRCS_IA = "NRCS Type IA"
    NRCS_II = "NRCS Type II"
    NRCS_III = "NRCS Type III"


class QuantityKind(StrEnum):
    """What is counted of storage that is built."""

    EXCAVATION = "Excavation, in the ground"
    SPOIL = "Spoil, loose"
    TRUCKLOADS = "Truckloads of spoil"
    STONE = "Washed stone"
    STONE_MASS = "Washed stone, mass"
    FABRIC = "Non-woven fabric, all around"
    PIPE = "Pipe"
    RESTORATION = "Ground to restore"


class CautionKey(StrEnum):
    """A rule that the numbers of a site may set off."""

    ENGINEER = "engineer"
    PROTECTIVE_SYSTEM = "protective system"
    ATMOSPHERE = "atmosphere"
    WAY_OUT = "way out"
    SPOIL = "spoil"
    INSPECTION = "inspection"
    UTILITIES = "utilities"
    NEAR_STRUCTURE = "near structure"
    NEAR_LOT_LINE = "near lot line"
    NEAR_WELL = "near well"
    NEAR_SEPTIC = "near septic field"
    FOOTING = "footing"
    SLOPE = "slope"
    FILL = "fill"
    CONTAMINATION = "contamination"
    GROUNDWATER = "groundwater"
    ROCK = "rock"
    DRAWDOWN = "drawdown"
    OVERFLOW = "overflow"
    LARGER_STORMS = "larger storms"
    NEIGHBOURS = "neighbours"
    LAW = "law"


class Known(StrEnum):
    """What is said of a place by those who know it."""

    NOT_KNOWN = "not known"
    REPORTED = "reported"
    NONE_REPORTED = "none reported"
