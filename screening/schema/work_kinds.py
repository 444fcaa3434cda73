"""Kinds of improvement and the numbers each is given by: the reader, the form and the tables read them here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Any, Literal

from screening.errors import CriteriaError
from screening.schema.extensions import extensions
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


class FormGroup(StrEnum):
    """Headings of the form that draws improvements, in their order."""

    DRAINS = "Drains, pipes and channels"
    GROUND = "Ground"
    PLACES = "Places that water is led to"
    ADDED = "Other"


class Effect(StrEnum):
    """What an improvement does to the block; `improvements.apply` has a function for each."""

    TRENCH_DRAIN = "takes water along its line"
    DRAIN = "joins the drains"
    BARRIER = "joins the barriers"
    REGRADE = "shapes the ground"
    DOWNSPOUT = "moves a downspout"
    PLACE = "is a place that others lead to"
    OWN = "by its own function"


class Ask(StrEnum):
    """What is asked of an improvement; `improvements.measures` has a function for each."""

    TAKES_WATER = "takes water"
    HOLDS_WATER = "holds water"
    PIPE_FALLS = "pipe falls"
    DRAIN_WORKS = "drain works"
    DIG = "dig"
    PERMISSION = "permission"


@dataclass(frozen=True, kw_only=True)
class ImprovementKind:
    """A kind of work.

    Parameters
    ----------
    kind, label
        Its word in a feature's `kind`, and its name.
    shapes, numbers
        How it may be drawn, and the numbers it is given by.
    words
        Words it may have beside its numbers: `to`, `structure_id`, `use`, `load_class`, ...
    group
        Heading of the form.
    effect, asks
        What it does to the ground, and what is asked of it.
    takes_water
        Water comes to it and is led on: what it takes in the storm is measured.
    apply
        Of a kind from outside: gives the block with one such improvement in place, from the block and the improvement.
    check
        Of a kind from outside: gives its `hydraulics.rows.CheckRow`s, from the improvement, what was measured of it
        (`columns.IMPROVEMENT_COLUMNS`) and the result with it in place.
    """

    kind: str
    label: str
    shapes: tuple[Shape, ...]
    numbers: tuple[ImprovementNumber, ...] = ()
    words: tuple[str, ...] = ()
    group: FormGroup = FormGroup.ADDED
    effect: Effect = Effect.OWN
    asks: tuple[Ask, ...] = ()
    takes_water: bool = False
    apply: Callable[[Any, Any], Any] | None = None
    check: Callable[[Any, Mapping[str, Any], Any], Iterable[Any]] | None = None

    def __post_init__(self) -> None:
        if (self.effect is Effect.OWN) != (self.apply is not None):
            raise CriteriaError(
                f"The kind of improvement {self.kind!r} does not say what it does",
                expected="an effect of the toolkit, or a function `apply` of its own",
                mend="correct its declaration",
            )


_HEIGHT = ImprovementNumber(
    name="height", quantity="length", label="Height above the ground", low=0.01, high=10.0, is_needed=True
)
_CUT = ImprovementNumber(
    name="cut_depth", quantity="length", label="Deepest cut, bedding included", low=0.01, high=10.0
)
_SITE_WORDS = ("use", "load_class", "has_overflow_path", "has_discharge_permission")

BUILT_IN: tuple[ImprovementKind, ...] = (
    ImprovementKind(
        kind="trench_drain",
        group=FormGroup.DRAINS,
        effect=Effect.TRENCH_DRAIN,
        asks=(Ask.TAKES_WATER, Ask.PIPE_FALLS, Ask.DRAIN_WORKS),
        takes_water=True,
        label="Trench drain",
        shapes=("line",),
        numbers=(
            ImprovementNumber(name="width", quantity="length", label="Inner width", low=0.02, high=2.0),
            ImprovementNumber(name="depth", quantity="length", label="Inner depth at the outlet", low=0.02, high=3.0),
            ImprovementNumber(name="channel_slope", quantity="slope", label="Fall of the channel", low=0.0, high=20.0),
            ImprovementNumber(name="grate_open", quantity="share", label="Open share of the grate", low=0.01, high=1.0),
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
        group=FormGroup.DRAINS,
        effect=Effect.DRAIN,
        asks=(Ask.DIG, Ask.PERMISSION),
        label="Swale",
        shapes=("line",),
        numbers=(
            ImprovementNumber(
                name="depth", quantity="length", label="Depth below the ground", low=0.01, high=3.0, is_needed=True
            ),
        ),
        words=("has_discharge_permission",),
    ),
    ImprovementKind(
        kind="berm", group=FormGroup.GROUND, effect=Effect.BARRIER, label="Berm", shapes=("line",), numbers=(_HEIGHT,)
    ),
    ImprovementKind(
        kind="wall", group=FormGroup.GROUND, effect=Effect.BARRIER, label="Wall", shapes=("line",), numbers=(_HEIGHT,)
    ),
    ImprovementKind(
        kind="regrade",
        group=FormGroup.GROUND,
        effect=Effect.REGRADE,
        asks=(Ask.DIG,),
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
        group=FormGroup.DRAINS,
        effect=Effect.DRAIN,
        asks=(Ask.TAKES_WATER, Ask.DIG, Ask.PERMISSION),
        takes_water=True,
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
        group=FormGroup.DRAINS,
        effect=Effect.DOWNSPOUT,
        asks=(Ask.TAKES_WATER,),
        takes_water=True,
        label="Downspout moved to",
        shapes=("point", "line"),
        numbers=(),
        words=("to", "structure_id"),
    ),
    ImprovementKind(
        kind="outlet", group=FormGroup.PLACES, effect=Effect.PLACE, label="Outlet", shapes=("point", "line", "polygon")
    ),
    ImprovementKind(
        kind="storage",
        group=FormGroup.PLACES,
        effect=Effect.PLACE,
        asks=(Ask.HOLDS_WATER,),
        label="Storage",
        shapes=("point", "polygon"),
        numbers=(
            ImprovementNumber(
                name="volume", quantity="volume", label="Water it holds", low=0.001, high=100000.0, is_needed=True
            ),
        ),
    ),
)

OFF = "off"
"""Word for `to`: the water is taken off the ground, as to a storm sewer."""
FLAG_WORDS = ("has_overflow_path", "has_discharge_permission")
"""Words whose values are yes or no."""


@cache
def all_kinds() -> Mapping[str, ImprovementKind]:
    """Map the kinds, those of the toolkit and of extensions, by the word in a feature's `kind`."""
    added = (kind for extension in extensions() for kind in extension.kinds)
    return {kind.kind: kind for kind in (*BUILT_IN, *added)}


def kind_of_word(text: str) -> ImprovementKind | None:
    """Find a kind by its word, with spaces or hyphens and in any case; None where there is none.

    Examples
    --------
    >>> kind_of_word("Trench drain").kind, kind_of_word("moat")
    ('trench_drain', None)
    """
    return all_kinds().get(text.strip().lower().replace(" ", "_").replace("-", "_"))
