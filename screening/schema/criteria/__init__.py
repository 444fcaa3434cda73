"""Thresholds as data: what they are, the published profiles, and how they are read from names and values."""

from __future__ import annotations

from screening.schema.criteria.declaring import COMMON_PRACTICE
from screening.schema.criteria.profiles import PROFILES, Profile, choose_profile
from screening.schema.criteria.reading import differences, from_mapping, own_name
from screening.schema.criteria.sources import describe, profile_words, sources
from screening.schema.criteria.thresholds import (
    DISPERSIVE_METHODS,
    QUALITY_LEVEL_RMSE_M,
    RAINFALL_DISTRIBUTIONS,
    SOIL_GROUPS,
    Criteria,
)

__all__ = [
    "COMMON_PRACTICE",
    "DISPERSIVE_METHODS",
    "PROFILES",
    "QUALITY_LEVEL_RMSE_M",
    "RAINFALL_DISTRIBUTIONS",
    "SOIL_GROUPS",
    "Criteria",
    "Profile",
    "choose_profile",
    "describe",
    "differences",
    "from_mapping",
    "own_name",
    "profile_words",
    "sources",
]
