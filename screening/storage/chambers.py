"""Fields of chambers by their own dimensions: how many take a storm, and how many a place has room for."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from itertools import count

from screening.schema.codes.storage import SectionShape
from screening.schema.criteria import Criteria
from screening.storage.gallery import Gallery, chamber_gallery
from screening.storage.inflow import Inflow
from screening.storage.ranges import check_sizes
from screening.storage.sections import Section
from screening.storage.sizing import Sizing, Soil, fewest_in_row, runs_over, try_gallery

_LENGTH_TO_WIDTH = 2.0
"""Rows are added until the field is no longer than this for its width."""


@dataclass(frozen=True, kw_only=True)
class Chambers:
    """A kind of chamber and the stone around it.

    Parameters
    ----------
    section
        Of one, inside.
    chamber_length_m
        Of one, as laid.
    void_frac
        Of the stone.
    stone_under_m, stone_over_m, stone_between_m, stone_around_m
        Thickness of the stone.
    """

    section: Section
    chamber_length_m: float
    void_frac: float
    stone_under_m: float
    stone_over_m: float
    stone_between_m: float
    stone_around_m: float

    def __post_init__(self) -> None:
        stone = {name: getattr(self, name) for name in _STONE}
        check_sizes("The chambers", may_be_zero=_STONE, chamber_length_m=self.chamber_length_m, **stone)

    @property
    def depth_m(self) -> float:
        """From the base of the stone to its top."""
        return self.stone_under_m + self.section.height_m + self.stone_over_m

    def field(self, n_rows: int, n_in_row: int) -> Gallery:
        """Describe a field of them."""
        return chamber_gallery(
            self.section,
            chamber_length_m=self.chamber_length_m,
            n_in_row=n_in_row,
            n_rows=n_rows,
            void_frac=self.void_frac,
            **{name: getattr(self, name) for name in _STONE},
        )


_STONE = ("stone_under_m", "stone_over_m", "stone_between_m", "stone_around_m")


def chambers_of(criteria: Criteria) -> Chambers | None:
    """Take the chambers that the criteria describe; None where their height is 0."""
    if criteria.storage.chamber_height_m == 0.0:
        return None
    area = criteria.storage.chamber_area_m2
    section = Section(
        width_m=criteria.storage.chamber_width_m,
        height_m=criteria.storage.chamber_height_m,
        shape=SectionShape.GIVEN_AREA if area > 0.0 else SectionShape(criteria.storage.chamber_shape),
        area_m2=area or None,
    )
    return Chambers(
        section=section,
        chamber_length_m=criteria.storage.chamber_length_m,
        void_frac=criteria.storage.stone_void_frac,
        **{name: criteria.value(f"chamber_{name}") for name in _STONE},
    )


def size_chambers(inflow: Inflow, soil: Soil, chambers: Chambers) -> Sizing:
    """Find a field of chambers, about twice as long as wide, that takes a storm without overflow.

    Parameters
    ----------
    inflow, soil
        The storm's runoff, and what the field soaks into.
    chambers
        Their kind.

    Returns
    -------
    With the fewest rows that make the field no longer than twice its width, and the fewest chambers in each.
    """
    for n_rows in count(1):
        one = chambers.field(n_rows, 1)
        n_most = int((_LENGTH_TO_WIDTH * one.width_m - one.length_m) / chambers.chamber_length_m + 1e-9) + 1
        if n_most > 0 and not runs_over(inflow, chambers.field(n_rows, n_most), soil):
            break
    make = partial(chambers.field, n_rows)
    return try_gallery(inflow, make(fewest_in_row(inflow, soil, make)), soil)


def largest_field(room_m2: float, chambers: Chambers) -> Gallery | None:
    """Find the field with the most chambers that an area has room for; None where it has none for a single one.

    Rows are as for `size_chambers`: no more than make the field about twice as long as wide.
    """
    best, most = None, 0
    for n_rows in count(1):
        one = chambers.field(n_in_row=1, n_rows=n_rows)
        n_in_row = int((room_m2 / one.width_m - one.length_m) / chambers.chamber_length_m + 1e-9) + 1
        if one.footprint_m2 > room_m2 * (1.0 + 1e-9):
            break
        field = chambers.field(n_in_row=n_in_row, n_rows=n_rows)
        if n_in_row * n_rows > most:
            best, most = field, n_in_row * n_rows
        if field.length_m <= _LENGTH_TO_WIDTH * field.width_m:
            break
    return best
