"""A storm poured over a driveway: what each tracer carries, what stays, and over which edge the rest leaves."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from screening.driveways.edges import EdgePiece
from screening.driveways.storms import StormFields, volumes_m3
from screening.driveways.terrain import DrivewayTerrain
from screening.driveways.tracers import OWN, Tracers
from screening.models import F64, I64, Bool, ShedShare, freeze
from screening.schema.codes.driveways import GROUP_OF, ShareGroup, ShedsTo
from screening.schema.criteria import Criteria


@dataclass(frozen=True, kw_only=True, eq=False)
class Shed:
    """What the tracers of one driveway do in one storm.

    Parameters
    ----------
    fields
        The storm.
    pieces
        Of the driveway's edge.
    is_own
        Tracers of its own rain; the others are run-on.
    volume_m3, gone_m3, held_m3
        By tracer: what it carries, what of it leaves, and what stays; float64.
    piece
        Piece of edge over which it leaves, -1 = over none, int64.
    """

    fields: StormFields
    pieces: list[EdgePiece]
    is_own: Bool
    volume_m3: F64
    gone_m3: F64
    held_m3: F64
    piece: I64

    def __post_init__(self) -> None:
        freeze(self.is_own, self.volume_m3, self.gone_m3, self.held_m3, self.piece)

    @property
    def at_wall(self) -> Bool:
        """Tracers that leave over the edge at a structure."""
        return (self.piece >= 0) & self.leaves_to({ShareGroup.WALL})

    def leaves_to(self, groups: set[ShareGroup]) -> Bool:
        """Tracers that leave over edges beyond which one of the groups lies."""
        numbers = [number for number, piece in enumerate(self.pieces) if GROUP_OF[piece.sheds_to] in groups]
        return np.isin(self.piece, numbers)


def shed(
    terrain: DrivewayTerrain, tracers: Tracers, pieces: list[EdgePiece], fields: StormFields, *, criteria: Criteria
) -> Shed:
    """Pour a storm over a driveway: its low points take the first of what comes through them."""
    from screening.kernels.tracers import pour_into_ponds

    volume = volumes_m3(tracers, fields, criteria=criteria)
    gone, held = pour_into_ponds(volume, tracers.ponds, terrain.pond_order, terrain.pond_volume_m3)
    return Shed(
        fields=fields,
        pieces=pieces,
        is_own=tracers.kind == OWN,
        volume_m3=volume,
        gone_m3=gone,
        held_m3=held,
        piece=piece_of(tracers.leaves_at_m, pieces),
    )


def piece_of(at_m: F64, pieces: list[EdgePiece]) -> I64:
    """Number of the piece that each place along the outline lies in, -1 where there is no place (NaN)."""
    ends = np.array([piece.to_m for piece in pieces])
    place = np.minimum(np.searchsorted(ends, at_m, side="left"), len(pieces) - 1)
    return np.asarray(np.where(np.isnan(at_m), -1, place), np.int64)


def share_of(part: float, whole: float) -> float:
    """Share of a whole; NaN where there is none."""
    return part / whole if whole > 0 else math.nan


def group_shares(poured: Shed) -> dict[str, float]:
    """Share of own rain and of run-on that goes to each group, and that stays, by the names of their columns."""
    groups = {group: poured.leaves_to({group}) for group in ShareGroup}
    groups[ShareGroup.OTHER] |= poured.piece < 0
    shares = {}
    for prefix, which in (("own", poured.is_own), ("run_on", ~poured.is_own)):
        total = float(poured.volume_m3[which].sum())
        for group, chosen in groups.items():
            shares[f"{prefix}_to_{group}_frac"] = share_of(float(poured.gone_m3[chosen & which].sum()), total)
        shares[f"{prefix}_stays_frac"] = share_of(float(poured.held_m3[which].sum()), total)
    return shares


def shed_shares(poured: Shed) -> tuple[ShedShare, ...]:
    """Share of own rain, then of run-on, that stays and that goes to each thing beyond the edge, as they come."""
    found: list[ShedShare] = []
    for is_own, which in ((True, poured.is_own), (False, ~poured.is_own)):
        total = float(poured.volume_m3[which].sum())
        if total <= 0:
            continue
        stays = float(poured.held_m3[which].sum()) / total
        shares: dict[tuple[ShedsTo | None, str], float] = {(None, ""): stays}
        for number, piece in enumerate(poured.pieces):
            amount = float(poured.gone_m3[(poured.piece == number) & which].sum()) / total
            key = (piece.sheds_to, piece.sheds_to_id)
            shares[key] = shares.get(key, 0.0) + amount
        found += [ShedShare(is_own=is_own, sheds_to=to, to_id=of, frac=frac) for (to, of), frac in shares.items()]
    return tuple(found)
