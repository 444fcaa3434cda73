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
