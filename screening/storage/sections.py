"""Cross-sections of chambers and pipes by their own dimensions: area below a level, in closed form."""

from __future__ import annotations

import math
from dataclasses import dataclass

from screening.errors import InputError
from screening.schema.codes.storage import SectionShape
from screening.storage.ranges import check_sizes

_FULLNESS = {SectionShape.BOX: 1.0, SectionShape.ARCH: 2.0 / 3.0}
"""Area over that of the box around it; of a given area it follows from that."""


@dataclass(frozen=True, kw_only=True)
class Section:
    """The inside of a chamber or pipe, cut across.

    Parameters
    ----------
    width_m, height_m
        At its widest and highest, inside.
    shape
        `box`; `arch` (a parabola on a flat base); `half-ellipse` on a flat base; `round` (width = height);
        `given area`: an arch that narrows by the power of its height that gives `area_m2`.
    area_m2
        With `given area` only: at most width times height.

    Raises
    ------
    InputError
        A size cannot be used, or the area does not fit the box around it.
    """

    width_m: float
    height_m: float
    shape: SectionShape
    area_m2: float | None = None

    def __post_init__(self) -> None:
        check_sizes("The section", width_m=self.width_m, height_m=self.height_m)
        if self.shape not in list(SectionShape):
            raise InputError("The shape of the section is unknown", got=self.shape, expected=", ".join(SectionShape))
        if self.shape == SectionShape.ROUND and self.width_m != self.height_m:
            raise InputError(
                "A round section is as wide as it is high", got=f"{self.width_m:g} m wide, {self.height_m:g} m high"
            )
        box_m2 = self.width_m * self.height_m
        is_given = self.shape == SectionShape.GIVEN_AREA
        if (self.area_m2 is not None) != is_given or not 0 < (self.area_m2 or box_m2) <= box_m2:
            raise InputError(
                "The area of the section cannot be used",
                got=f"{self.area_m2} m2 with shape {self.shape}",
                expected=f"up to {box_m2:g} m2, with shape given area alone",
            )

    def area_below_m2(self, level_m: float) -> float:
        """Area below a level above the base [m2]; nothing below 0, all above the top.

        Examples
        --------
        >>> Section(width_m=2.0, height_m=1.0, shape=SectionShape.ARCH).area_below_m2(1.0).__round__(6)
        1.333333
        """
        level = min(max(level_m, 0.0), self.height_m)
        share = level / self.height_m
        box_m2 = self.width_m * self.height_m
        if self.shape == SectionShape.HALF_ELLIPSE:
            return box_m2 / 2.0 * (share * math.sqrt(1.0 - share**2) + math.asin(share))
        if self.shape == SectionShape.ROUND:
            return _segment_m2(self.width_m / 2.0, level)
        fullness = _FULLNESS.get(self.shape, (self.area_m2 or box_m2) / box_m2)
        # Width falls as (1 - height)^(1/p): p = 2 is the parabola, p without end the box; fullness = p / (p + 1).
        return box_m2 * share if fullness == 1.0 else box_m2 * fullness * (1.0 - (1.0 - share) ** (1.0 / fullness))


def _segment_m2(radius_m: float, level_m: float) -> float:
    """Area of a circle below a level above its lowest point."""
    up = radius_m - level_m
    return radius_m**2 * math.acos(up / radius_m) - up * math.sqrt(max(radius_m**2 - up**2, 0.0))


def sloping_pipe_volume_m3(*, diameter_m: float, length_m: float, slope: float, depth_m: float) -> float:
    """Compute the water in a round pipe on a slope, by the depth of a level surface at its lower end.

    Parameters
    ----------
    diameter_m, length_m
        Inside.
    slope
        Rise over length; more than 0.
    depth_m
        Above the invert of the lower end.

    Returns
    -------
    Volume [m3]: the circle segment integrated along the pipe, in closed form.

    References
    ----------
    FHWA HEC-22, 3rd edition, equation 8-10 and example 8-3 (p. 8-19).
    """
    check_sizes("The pipe", diameter_m=diameter_m, length_m=length_m, slope=slope, depth_m=depth_m)
    radius = diameter_m / 2.0

    def below(level: float) -> float:
        """Integral of the segment area from the invert to a level."""
        up = radius - min(max(level, 0.0), diameter_m)
        half_chord = math.sqrt(max(radius**2 - up**2, 0.0))
        moment = radius**2 * half_chord - half_chord**3 / 3.0 - radius**2 * up * math.acos(up / radius)
        return moment + max(level - diameter_m, 0.0) * math.pi * radius**2

    return (below(depth_m) - below(depth_m - slope * length_m)) / slope
