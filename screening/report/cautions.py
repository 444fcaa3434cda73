"""What every report says of its own limits, kept once."""

from __future__ import annotations

import dataclasses

from screening.models import BlockResult
from screening.report.words.storage import caution_words
from screening.storage.cautions import SiteCaution
from screening.units import UnitSystem

TAGLINE = "Screening, not design"

CAUTIONS: tuple[str, ...] = (
    "Screening only: drawn from remote data; not a survey, design, soil test, flood determination or permit document.",
    "Elevations carry the error of the source data; slopes near buildings, and low spots shallower than "
    "about twice that error, are uncertain. Confirm with levels on site.",
    "Culverts, downspout leaders, sumps, walls, curbs and recent grading may be missing and can reverse a "
    "flow path shown here.",
    "Soil map units are coarse and urban soils are often disturbed; measured infiltration, seasonal high "
    "water and rock depth decide feasibility.",
    "Setbacks, discharge points, sizing storms and who may design or install are set by local code and by "
    "licensed practice where the law requires; check before design. Do not direct water onto neighbouring "
    "land, a street or a sewer without permission.",
    "Keep infiltration away from foundations, basements, septic systems, wells, steep or unstable slopes, "
    "retaining walls and contaminated ground unless a qualified professional agrees.",
    "In the United States, call 811 before any digging and wait for marks; private lines (irrigation, "
    "pool, landscape electric, septic, propane) need a private locate. Elsewhere, use the local utility "
    "locating service.",
    "Trench collapse kills: entry into excavations, especially 4-5 ft (1.2-1.5 m) and deeper, is subject "
    "to OSHA 29 CFR 1926 Subpart P and state rules, or to the law of the place.",
    "Every system needs a safe overflow route for storms larger than the one used here. Volumes and areas "
    "shown are for comparison.",
)
"""Neutral cautions, always printed, in this order."""


def all_cautions(result: BlockResult, units: UnitSystem = "metric") -> tuple[str, ...]:
    """Put the cautions that this site sets off, each with its worst number, before those that always hold."""
    return (*_worst_words(site_cautions_of(result), units), *CAUTIONS)


def site_cautions_of(result: BlockResult, lot_id: str | None = None) -> list[tuple[str, SiteCaution]]:
    """Give the cautions that storage on the lots, or on one lot, sets off, each with the id of its storage."""
    table = result.capture.cautions
    own = table[table["is_triggered"].astype(bool) & (table["lot_id"].eq(lot_id) if lot_id is not None else True)]
    fields = [spec.name for spec in dataclasses.fields(SiteCaution)]
    found = []
    for row in own.to_dict("records"):
        limit = row["limit"] if row["limit"] == row["limit"] else None
        # Storage that never empties has no number in the table of a file, but infinity here.
        found.append((str(row["storage_id"]), SiteCaution(**{name: row[name] for name in fields} | {"limit": limit})))
    return found


def _worst_words(found: list[tuple[str, SiteCaution]], units: UnitSystem) -> list[str]:
    """One line a rule: where it is beyond its threshold most, and for how many storages it is set off."""
    by_rule: dict[str, list[tuple[str, SiteCaution]]] = {}
    for storage_id, caution in found:
        by_rule.setdefault(caution.key, []).append((storage_id, caution))
    lines = []
    for rows in by_rule.values():
        storage_id, worst = max(rows, key=lambda row: abs((row[1].value or 0.0) - (row[1].limit or 0.0)))
        more = f", and {len(rows) - 1} more" if len(rows) > 1 else ""
        lines.append(f"Storage {storage_id}{more}: {caution_words(worst, units)}")
    return lines
