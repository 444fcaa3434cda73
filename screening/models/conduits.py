"""Ways of water that do not run over ground."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from screening.models.arrays import F32, I64, U8, freeze


def _no_cells() -> I64:
    return np.empty(0, np.int64)


@dataclass(frozen=True, kw_only=True, eq=False)
class Conduits:
    """Pipes under the ground and downspouts, cells as flat indices.

    Parameters
    ----------
    name
        Kind and id of each pipe.
    inlet, outlet
        Ends of each pipe, int64.
    crest_m
        Level that water must reach to go through each, no lower than the routed ground at either end, float32 [m].
    fed_cell, fed_sides
        Outlets of pipes whose inlet is not seen, int64, and the bits of the side of the window it lies beyond, or
        of a gap, uint8: unseen water may come out there.
    roof_cell, roof_target
        Roof cells that drain through downspouts, and the ground cells they drain to, int64.
    sink_cell
        Cells whose water is taken off the ground: it leaves there, as over the edge of the window, int64.
    """

    name: tuple[str, ...] = ()
    inlet: I64 = field(default_factory=_no_cells)
    outlet: I64 = field(default_factory=_no_cells)
    crest_m: F32 = field(default_factory=lambda: np.empty(0, np.float32))
    fed_cell: I64 = field(default_factory=_no_cells)
    fed_sides: U8 = field(default_factory=lambda: np.empty(0, np.uint8))
    roof_cell: I64 = field(default_factory=_no_cells)
    roof_target: I64 = field(default_factory=_no_cells)
    sink_cell: I64 = field(default_factory=_no_cells)

    def __post_init__(self) -> None:
        freeze(self.inlet, self.outlet, self.crest_m, self.fed_cell, self.fed_sides)
        freeze(self.roof_cell, self.roof_target, self.sink_cell)


@dataclass(frozen=True, kw_only=True, eq=False)
class Intake:
    """What takes all water that comes to it along a line, or off a roof, and leads it away.

    Parameters
    ----------
    intake_id, kind
        Its id, and what it is in words: `trench drain`, `downspout`.
    line
        LineString [m] that takes water in every cell it crosses; None where a roof sheds into it.
    structure_id
        The structure whose roof sheds into it; empty for a line.
    outlet
        Point [m] on the ground where its water comes out; None = the water is taken off the ground.
    """

    intake_id: str
    kind: str
    line: Any | None = None
    structure_id: str = ""
    outlet: Any | None = None

    @property
    def name(self) -> str:
        """Kind and id."""
        return f"{self.kind} {self.intake_id}"
