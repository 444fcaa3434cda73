"""Improvements put on a block: a new block with them in place, the old one as it was."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.errors import InputError
from screening.grid import rasterize
from screening.models import F32, Block, Improvement, Improvements, Intake
from screening.schema.codes.improvements import Kind
from screening.schema.criteria import Criteria
from screening.schema.work_kinds import OFF, Effect, all_kinds

if TYPE_CHECKING:
    import geopandas as gpd


def apply_improvements(block: Block, improvements: Improvements, *, criteria: Criteria) -> Block:
    """Put improvements on a block.

    Barriers, swales, culverts and downspouts join the layers that are there; a regrade changes the ground; a trench
    drain takes the water of every cell it crosses and leads it to its outlet, or off the ground. A downspout takes the
    place of all that its structure had.

    Parameters
    ----------
    block
        The window as it is; it is not changed.
    improvements
        In the CRS of its grid.
    criteria
        `downspout_reach_m`: how far from its structure a moved downspout may begin.

    Returns
    -------
    A new block.

    Raises
    ------
    InputError
        The improvements lie in another CRS or outside the window, share an id with what is there, or name a structure
        that is not there.
    """
    _check_place(block, improvements)
    berms, channels = of_effect(improvements, Effect.BARRIER), of_effect(improvements, Effect.DRAIN)
    moved, roofs = _move_downspouts(block, improvements, criteria)
    drains = [
        (
            improvement.improvement_id,
            improvement.kind,
            improvement.number("invert_up_m"),
            improvement.number("invert_down_m"),
            improvement.number("depth_m"),
        )
        for improvement in channels
    ]
    barriers = [(improvement.improvement_id, improvement.kind, improvement.number("height_m")) for improvement in berms]
    changed = dataclasses.replace(
        block,
        elev_m=_regrade(block, improvements),
        barriers=_joined(block.barriers, "barrier_id", barriers, berms),
        drains=_joined(block.drains, "drain_id", drains, channels),
        downspouts=moved,
        intakes=(
            *block.intakes,
            *(_trench_drain(improvement, improvements) for improvement in of_effect(improvements, Effect.TRENCH_DRAIN)),
            *roofs,
        ),
        notes=(*block.notes, *improvements.notes),
    )
    for improvement in improvements.items:
        apply = all_kinds()[improvement.kind].apply
        changed = changed if apply is None else apply(changed, improvement)
    return changed


def of_effect(improvements: Improvements, effect: Effect) -> tuple[Improvement, ...]:
    """Give the improvements whose kind has an effect."""
    return tuple(each for each in improvements.items if all_kinds()[each.kind].effect is effect)


def outlet_of(improvement: Improvement, improvements: Improvements) -> Any | None:
    """Place on the ground where the water of a drain or downspout comes out; None = it is taken off the ground."""
    import shapely

    to = improvement.word("to")
    target = improvements.by_id(to) if to else None
    if to == OFF or target is None or target.kind == Kind.STORAGE:
        return None
    if target.geometry.geom_type == "LineString":
        return shapely.Point(target.geometry.coords[-1])
    return target.geometry.representative_point()


def _trench_drain(improvement: Improvement, improvements: Improvements) -> Intake:
    return Intake(
        intake_id=improvement.improvement_id,
        kind="trench drain",
        line=improvement.geometry,
        structure_id="",
        outlet=outlet_of(improvement, improvements),
    )


def _check_place(block: Block, improvements: Improvements) -> None:
    import shapely

    if improvements.crs != block.grid.crs:
        raise InputError(
            "The improvements lie in another CRS than the window",
            got=improvements.crs,
            expected=block.grid.crs,
            mend="read them with the CRS of the grid",
        )
    window = shapely.box(*block.grid.bounds)
    outside = [improvement.name for improvement in improvements.items if not window.covers(improvement.geometry)]
    if outside:
        raise InputError(
            f"The {improvements.title} lie outside the elevation, or reach beyond it",
            got=", ".join(outside),
            expected="improvements within the ground that is screened",
            mend="move them, or give elevation that holds them",
        )


def _joined(
    layer: gpd.GeoDataFrame, id_column: str, rows: Iterable[tuple[Any, ...]], improvements: Iterable[Improvement]
) -> gpd.GeoDataFrame:
    """A layer with the improvements' rows after its own."""
    import geopandas as gpd
    import pandas as pd

    rows, shapes = list(rows), [improvement.geometry for improvement in improvements]
    if not rows:
        return layer
    columns = [name for name in layer.columns if name != "geometry"]
    shared = sorted(set(layer[id_column]) & {row[0] for row in rows})
    if shared:
        raise InputError(
            f"An improvement has the {id_column} of something that is there",
            got=", ".join(shared),
            expected="an id of its own",
            mend="give the improvement another id",
        )
    new = gpd.GeoDataFrame(
        {name: [row[i] for row in rows] for i, name in enumerate(columns)}, geometry=shapes, crs=layer.crs
    )
    if layer.empty:
        return new
    return gpd.GeoDataFrame(pd.concat([layer, new], ignore_index=True), geometry="geometry", crs=layer.crs)


def _move_downspouts(
    block: Block, improvements: Improvements, criteria: Criteria
) -> tuple[gpd.GeoDataFrame, list[Intake]]:
    """Downspouts of the block, those of the improvements in place of their structures' own; roofs led off."""
    import geopandas as gpd
    import pandas as pd
    import shapely

    moves = of_effect(improvements, Effect.DOWNSPOUT)
    if not moves:
        return block.downspouts, []
    owner = {
        improvement.improvement_id: _structure_of(improvement, block, criteria.terrain.downspout_reach_m)
        for improvement in moves
    }
    kept = block.downspouts[~_owners(block, criteria.terrain.downspout_reach_m).isin(set(owner.values()))]
    rows, shapes, roofs = [], [], []
    for improvement in moves:
        to = improvement.word("to")
        outlet = outlet_of(improvement, improvements)
        if to and outlet is None:
            roofs.append(
                Intake(
                    intake_id=improvement.improvement_id,
                    kind="downspout",
                    line=None,
                    structure_id=owner[improvement.improvement_id],
                )
            )
            continue
        end = outlet if outlet is not None else shapely.Point(shapely.get_coordinates(improvement.geometry)[-1])
        rows.append((improvement.improvement_id, owner[improvement.improvement_id]))
        shapes.append(end)
    new = gpd.GeoDataFrame(
        {"downspout_id": [row[0] for row in rows], "structure_id": [row[1] for row in rows]},
        geometry=shapes,
        crs=block.grid.crs,
    )
    parts = [part for part in (kept, new) if len(part)]
    joined = pd.concat(parts, ignore_index=True) if parts else kept
    return gpd.GeoDataFrame(joined.reset_index(drop=True), geometry="geometry", crs=block.grid.crs), roofs


def _structure_of(improvement: Improvement, block: Block, reach_m: float) -> str:
    """Structure that a downspout belongs to: the one it names, or the nearest to where it begins."""
    import shapely

    ids: list[str] = block.structures["structure_id"].astype(str).tolist()
    named = improvement.word("structure_id")
    if named:
        if named not in ids:
            raise InputError(
                f"The {improvement.name} belongs to a structure that is not there",
                got=named,
                expected=", ".join(ids[:8]) or "a structures layer",
                mend="correct its structure_id",
            )
        return named
    start = shapely.Point(shapely.get_coordinates(improvement.geometry)[0])
    away = block.structures.geometry.distance(start).to_numpy(float)
    if not away.size or away.min() > reach_m:
        raise InputError(
            f"The {improvement.name} does not say whose it is, and no structure is near",
            expected=f"a structure_id, or a structure within {reach_m:g} m of where it begins",
            mend="add structure_id, or draw a line from the structure to where the water goes",
        )
    return ids[int(away.argmin())]


def _owners(block: Block, reach_m: float) -> Any:
    """Structure of each downspout that is there: the one it names, or the nearest within reach."""
    import pandas as pd

    owners = []
    for spout in block.downspouts.itertuples():
        owner = str(spout.structure_id)
        if not owner and len(block.structures):
            away = block.structures.geometry.distance(spout.geometry).to_numpy(float)
            owner = str(block.structures["structure_id"].iloc[int(away.argmin())]) if away.min() <= reach_m else ""
        owners.append(owner)
    return pd.Series(owners, index=block.downspouts.index, dtype=object)


def _regrade(block: Block, improvements: Improvements) -> F32:
    """Ground with the regraded areas at their level or slope, but for where structures stand; later ones win."""
    elev_m = block.elev_m
    structures = list(block.structures.geometry)
    stands = rasterize(block.grid, structures, [1] * len(structures)) > 0
    for improvement in of_effect(improvements, Effect.REGRADE):
        inside = (rasterize(block.grid, [improvement.geometry], [1]) > 0) & ~stands & ~np.isnan(elev_m)
        if not inside.any():
            raise InputError(
                f"The {improvement.name} changes no ground",
                expected="an area that holds the middle of at least one cell of "
                f"known ground, {block.grid.cell_m:g} m wide, outside of structures",
                mend="draw it larger or move it",
            )
        elev_m = np.where(inside, _plane(improvement, block, elev_m, inside), elev_m).astype(np.float32)
    return elev_m


def _plane(improvement: Improvement, block: Block, elev_m: F32, inside: Any) -> Any:
    """Level of every cell on the plane: its upper edge at `elev_m`, or where that edge's ground is now."""
    grid, slope = block.grid, np.nan_to_num(improvement.number("slope_pct")) / 100.0
    bearing = np.deg2rad(np.nan_to_num(improvement.number("falls_toward_deg")))
    row, col = np.mgrid[: grid.n_rows, : grid.n_cols]
    # Distance along the fall, from the grid's own corner: whole numbers of metres along the axes stay exact.
    along = (col * round(float(np.sin(bearing)), 12) - row * round(float(np.cos(bearing)), 12)) * grid.cell_m
    top = along[inside].min()
    edge = inside & (along < top + grid.cell_m)
    level = (
        improvement.number("elev_m") if "elev_m" in improvement.numbers else float(elev_m[edge].mean(dtype=np.float64))
    )
    return level - slope * (along - top)
