"""What building the storage takes: ranges from stated assumptions, not a bill."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from screening.errors import InputError
from screening.schema.codes.storage import PitSides, QuantityKind
from screening.storage.gallery import Gallery
from screening.storage.ranges import Range, check_sizes, exactly, round_outward

SIDE_SLOPES: dict[PitSides, Range] = {
    PitSides.UPRIGHT: exactly(0.0),
    PitSides.SOIL_A: exactly(0.75),
    PitSides.SOIL_B: exactly(1.0),
    PitSides.SOIL_C: exactly(1.5),
    PitSides.UNKNOWN: Range(0.0, 1.5),
}
"""Horizontal to vertical of the sides of an excavation by soil type, up to 20 ft deep; upright = shored or shielded,
unknown = from upright to type C. OSHA 29 CFR 1926 Subpart P, appendix B, from memory."""


@dataclass(frozen=True, kw_only=True)
class Assumptions:
    """What the quantities rest on; all of it common practice, no published source.

    Parameters
    ----------
    working_room_m
        Added around the storage at its base.
    bulking
        Volume of loose spoil to volume in the ground.
    truck_m3
        What one truck takes, loose (10 to 15 cu yd).
    stone_t_m3
        Mass of washed stone to its volume in place.
    stone_spare, fabric_laps, pipe_spare
        Bought to needed: settling and loss; laps and cut-offs; fittings and cut-offs.
    strip_m
        Ground around the opening that the work wears out.
    """

    working_room_m: Range = field(default=Range(0.0, 0.5))
    bulking: Range = field(default=Range(1.15, 1.35))
    truck_m3: Range = field(default=Range(7.6, 11.5))
    stone_t_m3: Range = field(default=Range(1.4, 1.7))
    stone_spare: Range = field(default=Range(1.0, 1.1))
    fabric_laps: Range = field(default=Range(1.1, 1.25))
    pipe_spare: Range = field(default=Range(1.0, 1.1))
    strip_m: Range = field(default=Range(1.0, 3.0))

    def __post_init__(self) -> None:
        check_sizes("The truck", truck_m3=self.truck_m3.low)


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """One quantity from low to high, and what it rests on.

    Parameters
    ----------
    name
        With its unit at the end.
    kind
        What is counted.
    amount
        Not rounded.
    unit
        `m`, `m2`, `m3`, `t` (tonnes) or `loads`.
    assumed
        The assumption it rests on, of `Assumptions`.
    sides
        How the sides of the pit stand, where that counts.
    """

    name: str
    kind: QuantityKind
    amount: Range
    unit: str
    assumed: Range
    sides: PitSides | None = None

    @property
    def shown(self) -> Range:
        """Rounded outward: two figures, or whole loads."""
        return self.amount if self.unit == "loads" else round_outward(self.amount)


def excavated_m3(*, length_m: float, width_m: float, depth_m: float, side_slope: float) -> float:
    """Compute the volume of a pit with a rectangular base and four sides of one slope.

    Parameters
    ----------
    length_m, width_m
        Of the base.
    depth_m
        From the top to the base.
    side_slope
        Horizontal to vertical; 0 = upright.

    References
    ----------
    FHWA HEC-22, 3rd edition, equation 8-7 (p. 8-18), which states it for ponds.

    Examples
    --------
    >>> round(excavated_m3(length_m=26.0, width_m=13.0, depth_m=0.8, side_slope=3.0), 1)
    351.4
    """
    base = length_m * width_m * depth_m
    return base + (length_m + width_m) * side_slope * depth_m**2 + 4.0 / 3.0 * side_slope**2 * depth_m**3


def estimate_quantities(
    gallery: Gallery,
    *,
    cover_m: float,
    sides: PitSides = PitSides.UNKNOWN,
    pipe_run_m: float = 0.0,
    assumptions: Assumptions | None = None,
) -> tuple[Quantity, ...]:
    """Estimate excavation, spoil, stone, fabric, pipe and restoration.

    Parameters
    ----------
    gallery
        The storage.
    cover_m
        Ground over its top; the pit is as deep as both.
    sides
        How the sides of the pit stand.
    pipe_run_m
        Pipe from where water is caught to the storage, and from it to the overflow.
    assumptions
        Ranges that are taken; common practice by default.

    Returns
    -------
    Rows in the order of the work. Spoil: from what the storage displaces, where the rest is put back, to all.

    Raises
    ------
    InputError
        A size or the word for the sides cannot be used.
    """
    if sides not in SIDE_SLOPES:
        raise InputError("The sides of the pit are unknown", got=sides, expected=", ".join(SIDE_SLOPES))
    check_sizes("The pit", may_be_zero=("cover_m", "pipe_run_m"), cover_m=cover_m, pipe_run_m=pipe_run_m)
    taken = assumptions or Assumptions()
    return (
        *_earth(gallery, gallery.depth_m + cover_m, PitSides(sides), taken),
        *_materials(gallery, pipe_run_m, taken),
        _restoration(gallery, gallery.depth_m + cover_m, SIDE_SLOPES[sides], taken),
    )


def _earth(gallery: Gallery, depth_m: float, sides: PitSides, taken: Assumptions) -> Iterator[Quantity]:
    """What is dug, what is left over of it, and the loads that takes."""
    slope = SIDE_SLOPES[sides]
    dug = Range(*(_pit_m3(gallery, depth_m, room, at) for room, at in _ends(taken.working_room_m, slope)))
    displaced = gallery.footprint_m2 * gallery.depth_m
    spoil = Range(displaced, dug.high) * taken.bulking
    loads = Range(math.ceil(spoil.low / taken.truck_m3.high - 1e-9), math.ceil(spoil.high / taken.truck_m3.low - 1e-9))
    yield Quantity(
        name="excavation_m3",
        kind=QuantityKind.EXCAVATION,
        amount=dug,
        unit="m3",
        assumed=taken.working_room_m,
        sides=sides,
    )
    yield Quantity(name="spoil_m3", kind=QuantityKind.SPOIL, amount=spoil, unit="m3", assumed=taken.bulking)
    yield Quantity(name="truckloads", kind=QuantityKind.TRUCKLOADS, amount=loads, unit="loads", assumed=taken.truck_m3)


def _materials(gallery: Gallery, pipe_run_m: float, taken: Assumptions) -> Iterator[Quantity]:
    """Stone by volume and by mass, fabric and pipe."""
    stone = exactly(gallery.fill_m3) * taken.stone_spare
    wrap = exactly(2.0 * gallery.footprint_m2 + gallery.perimeter_m * gallery.depth_m)
    for name, kind, amount, assumed in (
        ("stone_m3", QuantityKind.STONE, stone, taken.stone_spare),
        ("stone_t", QuantityKind.STONE_MASS, stone * taken.stone_t_m3, taken.stone_t_m3),
        ("fabric_m2", QuantityKind.FABRIC, wrap * taken.fabric_laps, taken.fabric_laps),
        ("pipe_m", QuantityKind.PIPE, exactly(pipe_run_m) * taken.pipe_spare, taken.pipe_spare),
    ):
        yield Quantity(name=name, kind=kind, amount=amount, unit=name.rpartition("_")[2], assumed=assumed)


def _restoration(gallery: Gallery, depth_m: float, slope: Range, taken: Assumptions) -> Quantity:
    """The opening and the strip around it."""
    strips = taken.strip_m.low, taken.strip_m.high
    beyond = [
        room + at * depth_m + strip
        for (room, at), strip in zip(_ends(taken.working_room_m, slope), strips, strict=True)
    ]
    worn = Range(*((gallery.length_m + 2.0 * each) * (gallery.width_m + 2.0 * each) for each in beyond))
    return Quantity(name="restoration_m2", kind=QuantityKind.RESTORATION, amount=worn, unit="m2", assumed=taken.strip_m)


def _ends(room: Range, slope: Range) -> tuple[tuple[float, float], tuple[float, float]]:
    return (room.low, slope.low), (room.high, slope.high)


def _pit_m3(gallery: Gallery, depth_m: float, room_m: float, side_slope: float) -> float:
    length, width = gallery.length_m + 2.0 * room_m, gallery.width_m + 2.0 * room_m
    return excavated_m3(length_m=length, width_m=width, depth_m=depth_m, side_slope=side_slope)
