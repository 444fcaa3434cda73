"""Kinds of works and the numbers each is given by: the reader, the drawing form and the tables all read them here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from screening.units import M3_PER_FT3, M3_PER_GAL, M_PER_FT, M_PER_US_FT, MM_PER_IN, MM_PER_M

Shape = Literal["point", "line", "polygon"]
Quantity = Literal["length", "elevation", "volume", "slope", "bearing", "share"]

UNITS: dict[Quantity, dict[str, float]] = {
    "length": {
        "_m": 1.0, "_ft": M_PER_FT, "_in": MM_PER_IN / MM_PER_M, "_cm": 0.01, "_mm": 1.0 / MM_PER_M,
        "_us_ft": M_PER_US_FT,
    },
    "elevation": {"_m": 1.0, "_ft": M_PER_FT, "_us_ft": M_PER_US_FT},
    "volume": {"_m3": 1.0, "_ft3": M3_PER_FT3, "_gal": M3_PER_GAL, "_l": 1.0 / 1000.0},
    "slope": {"_pct": 1.0},
    "bearing": {"_deg": 1.0},
    "share": {"_frac": 1.0, "_pct": 0.01},
}  # fmt: skip
"""Endings that a number's name may have, the SI one first, and what turns its value into SI."""


@dataclass(frozen=True)
class WorkNumber:
    """A number that a work is given by; `low` and `high` in SI, `is_needed` = the work cannot be tried without."""

    name: str
    quantity: Quantity
    label: str
    low: float
    high: float
    is_needed: bool = False

    @property
    def key(self) -> str:
        """Its name with the SI unit at its end."""
        return self.name + next(iter(UNITS[self.quantity]))

    @property
    def unit(self) -> str:
        """The SI unit."""
        return next(iter(UNITS[self.quantity]))[1:]


@dataclass(frozen=True)
class WorkKind:
    """A kind of work: how it is drawn, its numbers, and whether it says where its water goes."""

    kind: str
    label: str
    shapes: tuple[Shape, ...]
    numbers: tuple[WorkNumber, ...] = ()
    words: tuple[str, ...] = ()
    """Words it may have beside its numbers: `to`, `structure_id`, `use`, `load_class`, ..."""


_HEIGHT = WorkNumber("height", "length", "Height above the ground", 0.01, 10.0, is_needed=True)
_CUT = WorkNumber("cut_depth", "length", "Deepest cut, bedding included", 0.01, 10.0)
_SITE_WORDS = ("use", "load_class", "has_overflow_path", "has_discharge_permission")

WORK_KINDS: dict[str, WorkKind] = {
    work.kind: work
    for work in (
        WorkKind(
            "trench_drain",
            "Trench drain",
            ("line",),
            (
                WorkNumber("width", "length", "Inner width", 0.02, 2.0),
                WorkNumber("depth", "length", "Inner depth at the outlet", 0.02, 3.0),
                WorkNumber("channel_slope", "slope", "Fall of the channel", 0.0, 20.0),
                WorkNumber("grate_open", "share", "Open share of the grate", 0.01, 1.0),
                WorkNumber("pipe_diameter", "length", "Inner diameter of its outlet pipe", 0.02, 2.0),
                _CUT,
            ),
            ("to", *_SITE_WORDS),
        ),
        WorkKind(
            "swale",
            "Swale",
            ("line",),
            (WorkNumber("depth", "length", "Depth below the ground", 0.01, 3.0, is_needed=True),),
            ("has_discharge_permission",),
        ),
        WorkKind("berm", "Berm", ("line",), (_HEIGHT,)),
        WorkKind("wall", "Wall", ("line",), (_HEIGHT,)),
        WorkKind(
            "regrade",
            "Regrade",
            ("polygon",),
            (
                WorkNumber("elev", "elevation", "Level, of a slope at its upper edge", -500.0, 9000.0),
                WorkNumber("slope", "slope", "Slope", 0.0, 100.0),
                WorkNumber("falls_toward", "bearing", "Falls toward (0 = north, 90 = east)", 0.0, 360.0),
            ),
        ),
        WorkKind(
            "culvert",
            "Culvert or pipe",
            ("line",),
            (
                WorkNumber("invert_up", "elevation", "Invert at its upper end", -500.0, 9000.0),
                WorkNumber("invert_down", "elevation", "Invert at its lower end", -500.0, 9000.0),
                _CUT,
            ),
            ("has_discharge_permission",),
        ),
        WorkKind("downspout", "Downspout moved to", ("point", "line"), (), ("to", "structure_id")),
        WorkKind("outlet", "Outlet", ("point", "line", "polygon")),
        WorkKind(
            "storage",
            "Storage",
            ("point", "polygon"),
            (WorkNumber("volume", "volume", "Water it holds", 0.001, 100000.0, is_needed=True),),
        ),
    )
}
"""By the word in a feature's `kind`."""

OFF = "off"
"""Word for `to`: the water is taken off the ground, as to a storm sewer."""
FLAG_WORDS = ("has_overflow_path", "has_discharge_permission")
"""Words whose values are yes or no."""


def kind_of_word(text: str) -> WorkKind | None:
    """Find a kind by its word, with spaces or hyphens and in any case; None where there is none.

    Examples
    --------
    >>> kind_of_word("Trench drain").kind, kind_of_word("moat")
    ('trench_drain', None)
    """
    return WORK_KINDS.get(text.strip().lower().replace(" ", "_").replace("-", "_"))
