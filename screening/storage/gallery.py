"""Buried storage as layers of stone with rows of chambers in them, and how much water it holds at each level."""

from __future__ import annotations

from dataclasses import dataclass

from screening.errors import InputError
from screening.schema.criteria import StorageCriteria
from screening.storage.ranges import check_sizes
from screening.storage.sections import Section

_SAME_M = 1e-9


@dataclass(frozen=True, kw_only=True)
class Layer:
    """One layer of fill: its depth [m] and the share of voids in it."""

    depth_m: float
    void_frac: float

    def __post_init__(self) -> None:
        check_sizes("A layer", depth_m=self.depth_m, void_frac=self.void_frac)
        if self.void_frac > 1.0:
            raise InputError("A layer has more voids than room", got=f"{self.void_frac:g}", expected="up to 1")


@dataclass(frozen=True, kw_only=True)
class ChamberRows:
    """Rows of like chambers, all water inside: section, number of rows, length of a row, height of their base."""

    section: Section
    n_rows: int
    row_length_m: float
    base_m: float

    def __post_init__(self) -> None:
        check_sizes(
            "The chambers",
            may_be_zero=("base_m",),
            n_rows=self.n_rows,
            row_length_m=self.row_length_m,
            base_m=self.base_m,
        )

    def volume_below_m3(self, level_m: float) -> float:
        """Room inside the chambers below a level above the base of the storage [m3]."""
        return self.n_rows * self.row_length_m * self.section.area_below_m2(level_m - self.base_m)

    @property
    def top_m(self) -> float:
        """Level of their top."""
        return self.base_m + self.section.height_m


@dataclass(frozen=True, kw_only=True)
class Gallery:
    """Storage with upright sides: layers from the base up, with or without chambers among them.

    Parameters
    ----------
    length_m, width_m
        Of the base.
    layers
        From the base up. Chambers take the place of fill where they stand.
    rows
        The chambers; None for stone alone.

    Raises
    ------
    InputError
        A size cannot be used, or the chambers do not fit.
    """

    length_m: float
    width_m: float
    layers: tuple[Layer, ...]
    rows: ChamberRows | None = None

    def __post_init__(self) -> None:
        check_sizes("The storage", length_m=self.length_m, width_m=self.width_m, n_layers=len(self.layers))
        rows, slack = self.rows, 1e-9
        if rows and (
            rows.n_rows * rows.section.width_m > self.width_m + slack
            or rows.row_length_m > self.length_m + slack
            or rows.top_m > self.depth_m + slack
        ):
            raise InputError(
                "The chambers do not fit in the storage",
                got=f"{rows.n_rows} x {rows.section.width_m:g} m wide, {rows.row_length_m:g} m long, "
                f"top at {rows.top_m:g} m",
                expected=f"within {self.width_m:g} m by {self.length_m:g} m by {self.depth_m:g} m",
            )

    @property
    def footprint_m2(self) -> float:
        """Area of the base."""
        return self.length_m * self.width_m

    @property
    def perimeter_m(self) -> float:
        """Length of the sides."""
        return 2.0 * (self.length_m + self.width_m)

    @property
    def depth_m(self) -> float:
        """From the base to the top of the uppermost layer."""
        return sum(layer.depth_m for layer in self.layers)

    @property
    def capacity_m3(self) -> float:
        """Water that it holds when full."""
        return self.volume_m3(self.depth_m)

    @property
    def fill_m3(self) -> float:
        """Place that the fill takes, voids counted in: all but the chambers."""
        chambers = self.rows.volume_below_m3(self.depth_m) if self.rows else 0.0
        return self.footprint_m2 * self.depth_m - chambers

    def volume_m3(self, level_m: float) -> float:
        """Water below a level above the base [m3].

        Examples
        --------
        >>> stone_bed(length_m=10.0, width_m=2.0, depth_m=1.0, void_frac=0.4).volume_m3(0.5)
        4.0
        """
        volume, bottom = 0.0, 0.0
        for layer in self.layers:
            top = min(bottom + layer.depth_m, level_m)
            if top <= bottom:
                break
            inside = self.rows.volume_below_m3(top) - self.rows.volume_below_m3(bottom) if self.rows else 0.0
            volume += inside + layer.void_frac * (self.footprint_m2 * (top - bottom) - inside)
            bottom += layer.depth_m
        return volume

    def breaks_m(self, *, n_in_chambers: int = 64) -> tuple[float, ...]:
        """Levels between which the volume rises evenly, or nearly so where chambers narrow; base and top among them."""
        edges, bottom = {0.0, self.depth_m}, 0.0
        for layer in self.layers[:-1]:
            bottom += layer.depth_m
            edges.add(bottom)
        if self.rows:
            base, top = self.rows.base_m, min(self.rows.top_m, self.depth_m)
            edges |= {base + (top - base) * part / n_in_chambers for part in range(n_in_chambers + 1)}
        # Sums that differ in their last digit are one level.
        apart = [0.0, *(edge for edge in sorted(edges) if edge < self.depth_m - _SAME_M), self.depth_m]
        return tuple(edge for edge, before in zip(apart, [-1.0, *apart[:-1]], strict=True) if edge - before > _SAME_M)


def stone_bed(*, length_m: float, width_m: float, depth_m: float, void_frac: float) -> Gallery:
    """Describe a bed or trench of stone alone."""
    return Gallery(length_m=length_m, width_m=width_m, layers=(Layer(depth_m=depth_m, void_frac=void_frac),))


def chamber_gallery(
    section: Section,
    *,
    chamber_length_m: float,
    n_in_row: int,
    n_rows: int,
    void_frac: float,
    stone_under_m: float = StorageCriteria.chamber_stone_under_m,
    stone_over_m: float = StorageCriteria.chamber_stone_over_m,
    stone_between_m: float = StorageCriteria.chamber_stone_between_m,
    stone_around_m: float = StorageCriteria.chamber_stone_around_m,
) -> Gallery:
    """Describe rows of chambers by their own dimensions, with stone under, over, between and around them.

    Parameters
    ----------
    section
        Of one chamber, inside.
    chamber_length_m, n_in_row, n_rows
        Length of one chamber as laid; how many stand end to end, and in how many rows.
    void_frac
        Of the stone.
    stone_under_m, stone_over_m, stone_between_m, stone_around_m
        The defaults of the criteria: common practice, no published source.

    Returns
    -------
    The storage.

    Examples
    --------
    >>> from screening.schema.codes.storage import SectionShape
    >>> arch = Section(width_m=1.2, height_m=0.76, shape=SectionShape.HALF_ELLIPSE)
    >>> chamber_gallery(arch, chamber_length_m=2.2, n_in_row=4, n_rows=2, void_frac=0.4).capacity_m3.__round__(2)
    22.05
    """
    check_sizes("The chambers", chamber_length_m=chamber_length_m, n_in_row=n_in_row, n_rows=n_rows)
    row_m = chamber_length_m * n_in_row
    layers = tuple(
        Layer(depth_m=depth, void_frac=void_frac)
        for depth in (stone_under_m, section.height_m, stone_over_m)
        if depth > 0.0
    )
    return Gallery(
        length_m=row_m + 2.0 * stone_around_m,
        width_m=n_rows * section.width_m + (n_rows - 1) * stone_between_m + 2.0 * stone_around_m,
        layers=layers,
        rows=ChamberRows(section=section, n_rows=n_rows, row_length_m=row_m, base_m=stone_under_m),
    )
