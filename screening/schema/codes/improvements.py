"""Codes of improvements that are tried out: their kinds, what is compared, and how it comes out."""

from __future__ import annotations

from enum import StrEnum


class Kind(StrEnum):
    """A kind of improvement that the method knows how to put on the ground: a key of `work_kinds.IMPROVEMENT_KINDS`."""

    TRENCH_DRAIN = "trench_drain"
    SWALE = "swale"
    BERM = "berm"
    WALL = "wall"
    REGRADE = "regrade"
    CULVERT = "culvert"
    DOWNSPOUT = "downspout"
    OUTLET = "outlet"
    STORAGE = "storage"


class Subject(StrEnum):
    """What a row of the comparison is of."""

    LOT = "lot"
    NEIGHBOUR = "neighbour"
    STRUCTURE = "structure"
    LOW_SPOT = "low spot"
    CHECK = "check"
    IMPROVEMENTS = "improvements"
    WINDOW = "window"


class Result(StrEnum):
    """How a number of the comparison comes out."""

    SAME = "same"
    WORSE = "worse"
    BETTER = "better"
    NEW = "new"
    GONE = "gone"
    CHANGED = "changed"
    NOT_ASSESSED = "not assessed"
    TAKES_WATER = "takes water"
    TAKES_NOTHING = "takes nothing"
    TOO_SMALL = "too small"


class LotChange(StrEnum):
    """What a lot gets of the water that arrives from outside."""

    MORE = "more water"
    LESS = "less water"
    SAME = "the same"
