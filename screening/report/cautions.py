"""What every report says of its own limits, kept once."""

from __future__ import annotations

from collections.abc import Sequence

from screening.storage.cautions import SiteCaution, caution_words
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


def all_cautions(site: Sequence[SiteCaution], units: UnitSystem = "metric") -> tuple[str, ...]:
    """Put the cautions that the numbers of a site set off before those that always hold."""
    return (*(caution_words(caution, units) for caution in site if caution.is_triggered), *CAUTIONS)
