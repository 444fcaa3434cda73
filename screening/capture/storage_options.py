"""Storage in one zone for the water that reaches it, of stone alone and with chambers: size, drawdown, overflow,
quantities, checks and cautions.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from screening.models import Rain, Verdict
from screening.schema.criteria import Criteria
from screening.storage.cautions import SiteFacts, site_cautions
from screening.storage.chambers import chambers_of, largest_field, size_chambers
from screening.storage.gallery import stone_bed
from screening.storage.hyetographs import Hyetograph, nested_hyetograph, nrcs_hyetograph, uniform_hyetograph
from screening.storage.inflow import DrainingArea, Inflow, runoff_inflow
from screening.storage.quantities import estimate_quantities
from screening.storage.sizing import Ground, Sizing, deepest_bed_m, ground_of, size_bed_footprint, try_gallery
from screening.storage.verdicts import Below, judge_drawdown, judge_storage
from screening.storm.rainfall_tables import rain_depth_mm

_STEP_H = 0.25
"""Steps of the storm in storage."""
_LENGTH_TO_WIDTH = 2.0
_SAME_M = 1e-9
_COMPARED = ("Excavation, in the ground", "Washed stone", "Non-woven fabric, all around")


@dataclass(frozen=True, kw_only=True, eq=False)
class StoragePlace:
    """A zone with the water that reaches it.

    Parameters
    ----------
    storage_id
        What it will be called, before its kind.
    zone
        `columns.ZONE_COLUMNS`.
    points
        Ids of the collection points whose water reaches it.
    areas
        All that drains to them, each cell once, by curve number.
    pipe_run_m
        Pipe from all of them.
    extra_depth_m
        How much deeper than under its least cover the storage lies for the sake of the pipes.
    overflow_to
        Where its overflow comes to first, in words.
    """

    storage_id: str
    zone: Mapping[str, Any]
    points: tuple[str, ...]
    areas: tuple[DrainingArea, ...]
    pipe_run_m: float
    extra_depth_m: float
    overflow_to: str


@dataclass(frozen=True, kw_only=True, eq=False)
class PlannedStorage:
    """Rows of `columns.STORAGE_COLUMNS`, `QUANTITY_COLUMNS` and `CAUTION_COLUMNS`, and checks."""

    row: dict[str, Any]
    quantities: tuple[dict[str, Any], ...] = ()
    cautions: tuple[dict[str, Any], ...] = ()
    verdicts: tuple[Verdict, ...] = field(default=())


@dataclass(frozen=True, kw_only=True, eq=False)
class _Kind:
    """One way to build it in a zone: its depth, how it is sized for some ground, and the most that the zone holds."""

    name: str
    depth_m: float
    size: Callable[[Ground], Sizing]
    fill: Callable[[Ground], Sizing | None]


def spread_rain(rain: Rain, *, criteria: Criteria) -> Hyetograph:
    """Spread the rain that storage is sized for over its hours.

    The depths of the rainfall table nested, where the storm comes from one; else an NRCS distribution over 24 h: II
    by default, which falls harder than the others and so asks for more storage.

    Parameters
    ----------
    rain
        Of the screening.
    criteria
        `capture_rain_mm` in its place; `rainfall_distribution`.
    """
    table, years, hours = rain.table, rain.return_period_yr, rain.duration_h
    if criteria.capture.capture_rain_mm > 0.0:
        return nrcs_hyetograph(criteria.capture.capture_rain_mm, criteria.storm.rainfall_distribution, step_h=_STEP_H)
    if table is None or years is None or hours is None or rain.is_duration_assumed or not np.isfinite(years):
        return nrcs_hyetograph(rain.depth_mm, criteria.storm.rainfall_distribution, step_h=_STEP_H)
    if hours <= table.durations_h[0]:
        return uniform_hyetograph(rain.depth_mm, duration_h=hours, step_h=_STEP_H)
    return nested_hyetograph(
        lambda duration_h: rain_depth_mm(table, return_period_yr=years, duration_h=duration_h),
        duration_h=hours,
        step_h=_STEP_H,
    )


def plan_storage(place: StoragePlace, rain: Hyetograph, *, criteria: Criteria) -> tuple[PlannedStorage, ...]:
    """Size storage in a zone for the water that reaches it: a bed of stone, and chambers where the criteria have some.

    The depth of stone alone is that of the criteria, less where groundwater, a restrictive layer or the time of
    emptying at the slower rate ask for less; chambers have their own. Footprints at the slower rate are at most the
    zone: what it cannot take overflows.

    Parameters
    ----------
    place
        The zone and its water.
    rain
        From `spread_rain`.
    criteria
        See `capture.plan_capture`.

    Returns
    -------
    Stone alone, then chambers; a single row that says why where nothing is sized.
    """
    zone = place.zone
    row: dict[str, Any] = {
        "storage_id": place.storage_id,
        "kind": "",
        "compared": "",
        "zone_id": zone["zone_id"],
        "lot_id": zone["lot_id"],
        "points": ", ".join(place.points),
        "rain_mm": rain.depth_mm,
        "rain_spread": rain.distribution,
        "room_m2": zone["area_m2"],
        "overflow_to": place.overflow_to,
    } | {name: zone[name] for name in ("rate_low_mm_h", "rate_high_mm_h", "rate_basis")}
    inflow = runoff_inflow(rain, place.areas, ratio=criteria.storm.initial_abstraction_ratio)
    row["inflow_m3"] = inflow.total_m3
    if not place.points:
        why = "no collection point reaches it by gravity"
        return (PlannedStorage(row=row | {"status": "no water reaches it", "why": why}),)
    if not row["rate_low_mm_h"] > 0.0:
        why = zone["rate_basis"].removeprefix("not assessed: ")
        return (PlannedStorage(row=row | {"status": "not assessed", "why": why}),)
    if inflow.total_m3 <= 0.0:
        return (PlannedStorage(row=row | {"status": "not needed", "why": "this rain sheds no water there"}),)
    stone, *others = [_sized(row, place, kind, criteria) for kind in _kinds(place, inflow, row, criteria)]
    return (stone, *(_compare(other, stone) for other in others))


def _kinds(place: StoragePlace, inflow: Inflow, row: dict[str, Any], criteria: Criteria) -> list[_Kind]:
    """Stone alone, and the chambers of the criteria."""
    room, voids = float(row["room_m2"]), criteria.storage.stone_void_frac
    depth = _stone_depth_m(place, ground_of(criteria, row["rate_low_mm_h"]), criteria)
    width = (room / _LENGTH_TO_WIDTH) ** 0.5
    whole = stone_bed(length_m=width * _LENGTH_TO_WIDTH, width_m=width, depth_m=depth, void_frac=voids)
    kinds = [
        _Kind(
            name="stone",
            depth_m=depth,
            size=lambda ground: size_bed_footprint(
                inflow, ground, depth_m=depth, void_frac=voids, length_to_width=_LENGTH_TO_WIDTH
            ),
            fill=lambda ground: try_gallery(inflow, whole, ground),
        )
    ]
    chambers = chambers_of(criteria)
    if chambers is not None:
        field = largest_field(room, chambers)
        kinds.append(
            _Kind(
                name="chambers",
                depth_m=chambers.depth_m,
                size=lambda ground: size_chambers(inflow, ground, chambers),
                fill=lambda ground: None if field is None else try_gallery(inflow, field, ground),
            )
        )
    return kinds


def _deepest_m(place: StoragePlace, criteria: Criteria) -> float:
    """Most depth of storage above groundwater and a restrictive layer; infinite where neither is known."""
    base = criteria.storage.storage_cover_m + place.extra_depth_m
    return min(
        (
            float(place.zone[name]) - apart - base
            for name, apart in (
                ("water_depth_m", criteria.storage.separation_water_m),
                ("restrictive_depth_m", criteria.storage.separation_rock_m),
            )
            if place.zone[name] == place.zone[name]
        ),
        default=float("inf"),
    )


def _stone_depth_m(place: StoragePlace, slow: Ground, criteria: Criteria) -> float:
    """Depth of stone alone: no more than what may be, but never less than the least that is looked at."""
    in_time = deepest_bed_m(
        design_rate_mm_h=slow.design_rate_mm_h,
        drawdown_max_h=criteria.storage.drawdown_max_h,
        void_frac=criteria.storage.stone_void_frac,
    )
    most = min(criteria.storage.storage_depth_m, in_time, _deepest_m(place, criteria))
    return max(most, criteria.storage.storage_depth_min_m)


def _sized(row: dict[str, Any], place: StoragePlace, kind: _Kind, criteria: Criteria) -> PlannedStorage:
    row = row | {
        "storage_id": f"{row['storage_id']} {kind.name}",
        "kind": kind.name,
        "depth_m": kind.depth_m,
        "base_depth_m": kind.depth_m + criteria.storage.storage_cover_m + place.extra_depth_m,
    }
    # Stone of the least depth is sized all the same, and its check fails: there is no shallower one.
    if kind.name != "stone" and kind.depth_m > _deepest_m(place, criteria) + _SAME_M:
        why = "its base would come nearer to groundwater or a restrictive layer than is allowed"
        return PlannedStorage(row=row | {"status": "too deep", "why": why})
    slow, fast = (ground_of(criteria, row[name]) for name in ("rate_low_mm_h", "rate_high_mm_h"))
    needs, room = kind.size(slow), float(row["room_m2"])
    needs_fast = needs if fast == slow else kind.size(fast)
    built, built_fast = (
        sizing if sizing.gallery.footprint_m2 <= room else kind.fill(ground)
        for sizing, ground in ((needs, slow), (needs_fast, fast))
    )
    row |= {
        "volume_low_m3": needs_fast.volume_needed_m3,
        "volume_high_m3": needs.volume_needed_m3,
        "footprint_low_m2": needs_fast.gallery.footprint_m2,
        "footprint_high_m2": needs.gallery.footprint_m2,
    }
    if built is None or built_fast is None:
        return PlannedStorage(row=row | {"status": "does not fit", "why": "the zone has no room for a single chamber"})
    longest_h = criteria.storage.drawdown_max_h * (1.0 + _SAME_M)
    is_in_time = built.drawdown_h <= longest_h, built_fast.drawdown_h <= longest_h
    status, why = _fit_words(needs, needs_fast, room, is_in_time)
    row |= {
        "status": status,
        "why": why,
        "built_footprint_m2": built.gallery.footprint_m2,
        "overflow_m3": built.routing.overflow_total_m3,
        "drawdown_low_h": built_fast.drawdown_h,
        "drawdown_high_h": built.drawdown_h,
    }
    return PlannedStorage(
        row=row,
        quantities=_quantities(row, place, built, built_fast, criteria),
        cautions=_cautions(row, place.zone, criteria),
        verdicts=_verdicts(row, place.zone, built, criteria),
    )


def _compare(other: PlannedStorage, stone: PlannedStorage) -> PlannedStorage:
    """Say what another kind takes compared with stone alone, in shares, so that it reads the same in every unit."""
    if not other.quantities:
        return other
    shares = [
        ("footprint", other.row["footprint_high_m2"] / stone.row["footprint_high_m2"]),
        ("depth", other.row["depth_m"] / stone.row["depth_m"]),
    ]
    if other.row["overflow_m3"] == stone.row["overflow_m3"] == 0.0:
        most, least = ({line["quantity"]: line["high"] for line in one.quantities} for one in (other, stone))
        shares += [(label.split(",")[0].lower(), most[label] / least[label]) for label in _COMPARED]
    words = ", ".join(f"{share:.0%} of the {what}" for what, share in shares)
    return replace(other, row=other.row | {"compared": words})


def _fit_words(needs: Sizing, needs_fast: Sizing, room_m2: float, is_in_time: tuple[bool, bool]) -> tuple[str, str]:
    """Judge room and time of emptying, each at the slower and at the faster rate."""
    has_room, has_room_fast = (sizing.gallery.footprint_m2 <= room_m2 for sizing in (needs, needs_fast))
    in_time, in_time_fast = is_in_time
    slowly = "" if in_time else "full, it takes longer to empty at the slower rate than is allowed"
    if not in_time_fast:
        return "empties too slowly", "full, it takes longer to empty than is allowed, at the faster rate too"
    if not has_room_fast:
        share = room_m2 / needs.gallery.footprint_m2
        small = f"the zone has {share:.0%} of the room that all of this rain needs at the slower rate"
        return "takes a part", "; ".join(part for part in (small, slowly) if part)
    if has_room and in_time:
        return "fits", "the zone has room for all of this rain at the slower rate"
    small = "" if has_room else "at the slower rate the zone is too small for all of this rain"
    return "fits at the faster rate only", "; ".join(part for part in (small, slowly) if part)


def _quantities(
    row: dict[str, Any], place: StoragePlace, built: Sizing, built_fast: Sizing, criteria: Criteria
) -> tuple[dict[str, Any], ...]:
    """From the least for the smaller bed to the most for the larger."""
    cover = criteria.storage.storage_cover_m + place.extra_depth_m
    large, small = (
        estimate_quantities(sizing.gallery, cover_m=cover, pipe_run_m=place.pipe_run_m)
        for sizing in (built, built_fast)
    )
    return tuple(
        {
            "storage_id": row["storage_id"],
            "lot_id": row["lot_id"],
            "quantity": most.label,
            "low": least.amount.low,
            "high": most.amount.high,
            "unit": most.unit,
            "basis": most.basis,
        }
        for most, least in zip(large, small, strict=True)
    )


def _known(value: float) -> float | None:
    return None if value != value or value == float("inf") else float(value)


def _cautions(row: dict[str, Any], zone: Mapping[str, Any], criteria: Criteria) -> tuple[dict[str, Any], ...]:
    facts = SiteFacts(
        pit_depth_m=row["base_depth_m"],
        base_depth_m=row["base_depth_m"],
        drawdown_h=row["drawdown_high_h"],
        overflow_m3=row["overflow_m3"],
        overflow_to=row["overflow_to"],
        water_depth_m=_known(zone["water_depth_m"]),
        rock_depth_m=_known(zone["restrictive_depth_m"]),
        structure_m=_known(zone["structure_m"]),
        lot_line_m=_known(zone["lot_line_m"]),
        well_m=_known(zone["well_m"]),
        septic_m=_known(zone["septic_m"]),
        slope_pct=_known(zone["slope_pct"]),
    )
    who = {"lot_id": row["lot_id"], "storage_id": row["storage_id"]}
    return tuple(
        who
        | {
            name: getattr(caution, name)
            for name in ("key", "what", "value", "limit", "unit", "advice", "source", "is_triggered")
        }
        for caution in site_cautions(facts, criteria=criteria)
    )


def _verdicts(row: dict[str, Any], zone: Mapping[str, Any], built: Sizing, criteria: Criteria) -> tuple[Verdict, ...]:
    """Checks at the slower rate, which is none that was measured."""
    below = Below(
        base_depth_m=row["base_depth_m"],
        water_depth_m=_known(zone["water_depth_m"]),
        rock_depth_m=_known(zone["restrictive_depth_m"]),
    )
    lot_id, storage_id = row["lot_id"], row["storage_id"]
    return (
        *judge_storage(built, below, lot_id=lot_id, storage_id=storage_id, criteria=criteria),
        *judge_drawdown(built, lot_id=lot_id, storage_id=storage_id),
    )
