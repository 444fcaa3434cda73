"""Kinds of improvement and the numbers each is given by: the reader, the form and the tables read them here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from screening.units import M3_PER_FT3, M3_PER_GAL, M_PER_FT, M_PER_US_FT, MM_PER_IN, MM_PER_M

Shape = Literal["point", "line", "polygon"]
Quantity = Literal["length", "elevation", "volume", "slope", "bearing", "share"]

UNITS: dict[Quantity, dict[str, float]] = {
    "length": {
        "_m": 1.0,
        "_ft": M_PER_FT,
        "_in": MM_PER_IN / MM_PER_M,
        "_cm": 0.01,
        "_mm": 1.0 / MM_PER_M,
        "_us_ft": M_PER_US_FT,
    },
    "elevation": {"_m": 1.0, "_ft": M_PER_FT, "_us_ft": M_PER_US_FT},
    "volume": {"_m3": 1.0, "_ft3": M3_PER_FT3, "_gal": M3_PER_GAL, "_l": 1.0 / 1000.0},
    "slope": {"_pct": 1.0},
    "bearing": {"_deg": 1.0},
    "share": {"_frac": 1.0, "_pct": 0.01},
}
"""Endings that a number's name may have, the SI one first, and what turns its value into SI."""


@dataclass(frozen=True, kw_only=True)
class ImprovementNumber:
    """A number that an improvement is given by; `low` and `high` in SI, `is_needed` = it cannot be tried without."""

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


@dataclass(frozen=True, kw_only=True)
class ImprovementKind:
    """A kind of work: how it is drawn, its numbers, and whether it says where its water goes."""

    kind: str
    label: str
    shapes: tuple[Shape, ...]
    numbers: tuple[ImprovementNumber, ...] = ()
    words: tuple[str, ...] = ()
    """Words it may have beside its numbers: `to`, `structure_id`, `use`, `load_class`, ..."""


_HEIGHT = ImprovementNumber(
    name="height", quantity="length", label="Height above the ground", low=0.01, high=10.0, is_needed=True
)
_CUT = ImprovementNumber(
    name="cut_depth", quantity="length", label="Deepest cut, bedding included", low=0.01, high=10.0
)
_SITE_WORDS = ("use", "load_class", "has_overflow_path", "has_discharge_permission")

IMPROVEMENT_KINDS: dict[str, ImprovementKind] = {
    improvement.kind: improvement
    for improvement in (
        ImprovementKind(
            kind="trench_drain",
            label="Trench drain",
            shapes=("line",),
            numbers=(
                ImprovementNumber(name="width", quantity="length", label="Inner width", low=0.02, high=2.0),
                ImprovementNumber(
                    name="depth", quantity="length", label="Inner depth at the outlet", low=0.02, high=3.0
                ),
                ImprovementNumber(
                    name="channel_slope", quantity="slope", label="Fall of the channel", low=0.0, high=20.0
                ),
                ImprovementNumber(
                    name="grate_open", quantity="share", label="Open share of the grate", low=0.01, high=1.0
                ),
                ImprovementNumber(
                    name="pipe_diameter",
                    quantity="length",
                    label="Inner diameter of its outlet pipe",
                    low=0.02,
                    high=2.0,
                ),
                _CUT,
            ),
            words=("to", *_SITE_WORDS),
        ),
        ImprovementKind(
            kind="swale",
            label="Swale",
            shapes=("line",),
            numbers=(
                ImprovementNumber(
                    name="depth", quantity="length", label="Depth below the ground", low=0.01, high=3.0, is_needed=True
                ),
            ),
            words=("has_discharge_permission",),
        ),
        ImprovementKind(kind="berm", label="Berm", shapes=("line",), numbers=(_HEIGHT,)),
        ImprovementKind(kind="wall", label="Wall", shapes=("line",), numbers=(_HEIGHT,)),
        ImprovementKind(
            kind="regrade",
            label="Regrade",
            shapes=("polygon",),
            numbers=(
                ImprovementNumber(
                    name="elev",
                    quantity="elevation",
                    label="Level, of a slope at its upper edge",
                    low=-500.0,
                    high=9000.0,
                ),
                ImprovementNumber(name="slope", quantity="slope", label="Slope", low=0.0, high=100.0),
                ImprovementNumber(
                    name="falls_toward",
                    quantity="bearing",
                    label="Falls toward (0 = north, 90 = east)",
                    low=0.0,
                    high=360.0,
                ),
            ),
        ),
        ImprovementKind(
            kind="culvert",
            label="Culvert or pipe",
            shapes=("line",),
            numbers=(
                ImprovementNumber(
                    name="invert_up", quantity="elevation", label="Invert at its upper end", low=-500.0, high=9000.0
                ),
                ImprovementNumber(
                    name="invert_down", quantity="elevation", label="Invert at its lower end", low=-500.0, high=9000.0
                ),
                _CUT,
            ),
            words=("has_discharge_permission",),
        ),
        ImprovementKind(
            kind="downspout",
            label="Downspout moved to",
            shapes=("point", "line"),
            numbers=(),
            words=("to", "structure_id"),
        ),
        ImprovementKind(kind="outlet", label="Outlet", shapes=("point", "line", "polygon")),
        ImprovementKind(
            kind="storage",
            label="Storage",
            shapes=("point", "polygon"),
            numbers=(
                ImprovementNumber(
                    name="volume", quantity="volume", label="Water it holds", low=0.001, high=100000.0, is_needed=True
                ),
            ),
        ),
    )
}
"""By the word in a feature's `kind`."""

OFF = "off"
"""Word for `to`: the water is taken off the ground, as to a storm sewer."""
FLAG_WORDS = ("has_overflow_path", "has_discharge_permission")
"""Words whose values are yes or no."""


def kind_of_word(text: str) -> ImprovementKind | None:
    """Find a kind by its word, with spaces or hyphens and in any case; None where there is none.

    Examples
    --------
    >>> kind_of_word("Trench drain").kind, kind_of_word("moat")
    ('trench_drain', None)
    """
    return IMPROVEMENT_KINDS.get(text.strip().lower().replace(" ", "_").replace("-", "_"))
