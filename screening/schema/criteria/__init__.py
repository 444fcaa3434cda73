"""Thresholds as data: what they are, the published profiles, and how they are read from names and values."""

from __future__ import annotations

from screening.schema.criteria.capture import SOIL_GROUPS, CaptureCriteria
from screening.schema.criteria.declaring import COMMON_PRACTICE, check_thresholds, threshold
from screening.schema.criteria.depressions import DepressionCriteria
from screening.schema.criteria.driveways import DrivewayCriteria
from screening.schema.criteria.findings import FindingCriteria
from screening.schema.criteria.flow import DISPERSIVE_METHODS, FlowCriteria
from screening.schema.criteria.hydraulics import HydraulicsCriteria
from screening.schema.criteria.improvements import ImprovementCriteria
from screening.schema.criteria.interception import InterceptionCriteria
from screening.schema.criteria.outfall import OutfallCriteria
from screening.schema.criteria.profiles import PROFILES, Profile, choose_profile
from screening.schema.criteria.reading import differences, from_mapping, own_name
from screening.schema.criteria.site import SiteCriteria
from screening.schema.criteria.sources import describe, profile_words, sources
from screening.schema.criteria.storage import StorageCriteria
from screening.schema.criteria.storm import RAINFALL_DISTRIBUTIONS, StormCriteria
from screening.schema.criteria.structures import StructureCriteria
from screening.schema.criteria.terrain import QUALITY_LEVEL_RMSE_M, TerrainCriteria
from screening.schema.criteria.thresholds import Criteria, Threshold, thresholds

__all__ = [
    "COMMON_PRACTICE",
    "DISPERSIVE_METHODS",
    "PROFILES",
    "QUALITY_LEVEL_RMSE_M",
    "RAINFALL_DISTRIBUTIONS",
    "SOIL_GROUPS",
    "CaptureCriteria",
    "Criteria",
    "DepressionCriteria",
    "DrivewayCriteria",
    "FindingCriteria",
    "FlowCriteria",
    "HydraulicsCriteria",
    "ImprovementCriteria",
    "InterceptionCriteria",
    "OutfallCriteria",
    "Profile",
    "SiteCriteria",
    "StorageCriteria",
    "StormCriteria",
    "StructureCriteria",
    "TerrainCriteria",
    "Threshold",
    "check_thresholds",
    "choose_profile",
    "describe",
    "differences",
    "from_mapping",
    "own_name",
    "profile_words",
    "sources",
    "threshold",
    "thresholds",
]
