"""Every threshold of a screening: one group a room, their names unique over all."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Self

from screening.errors import CriteriaError
from screening.schema.criteria.capture import CaptureCriteria
from screening.schema.criteria.depressions import DepressionCriteria
from screening.schema.criteria.driveways import DrivewayCriteria
from screening.schema.criteria.findings import FindingCriteria
from screening.schema.criteria.flow import FlowCriteria
from screening.schema.criteria.hydraulics import HydraulicsCriteria
from screening.schema.criteria.improvements import ImprovementCriteria
from screening.schema.criteria.interception import InterceptionCriteria
from screening.schema.criteria.outfall import OutfallCriteria
from screening.schema.criteria.site import SiteCriteria
from screening.schema.criteria.storage import StorageCriteria
from screening.schema.criteria.storm import StormCriteria
from screening.schema.criteria.structures import StructureCriteria
from screening.schema.criteria.terrain import TerrainCriteria
from screening.schema.extensions import extensions

_GROUPS = (
    "site",
    "terrain",
    "storm",
    "flow",
    "depressions",
    "structures",
    "driveways",
    "hydraulics",
    "outfall",
    "interception",
    "capture",
    "storage",
    "findings",
    "improvements",
)
_PROFILE = {
    "unit": "",
    "meaning": "name of this set of thresholds; a published profile's name brings its values",
    "source": "the project",
}


@dataclass(frozen=True, kw_only=True)
class Threshold:
    """One threshold as it is declared: its group, its default, and what it means."""

    name: str
    group: str
    default: Any
    unit: str
    meaning: str
    source: str


@dataclass(frozen=True, kw_only=True)
class Criteria:
    """Every threshold of a screening, in one group for each room.

    Names are unique over all groups, so that a criteria file and `Criteria.of` take them flat. Fields of the groups
    carry unit, meaning, source and range in their metadata; `describe` lists them. `added` holds the groups that
    extensions declare.

    Raises
    ------
    CriteriaError
        A value is of the wrong kind or outside its range.

    Examples
    --------
    >>> Criteria.of(setback_well_m=20.0).capture.setback_well_m
    20.0
    """

    profile: str = "neutral"
    site: SiteCriteria = field(default_factory=SiteCriteria)
    terrain: TerrainCriteria = field(default_factory=TerrainCriteria)
    storm: StormCriteria = field(default_factory=StormCriteria)
    flow: FlowCriteria = field(default_factory=FlowCriteria)
    depressions: DepressionCriteria = field(default_factory=DepressionCriteria)
    structures: StructureCriteria = field(default_factory=StructureCriteria)
    driveways: DrivewayCriteria = field(default_factory=DrivewayCriteria)
    hydraulics: HydraulicsCriteria = field(default_factory=HydraulicsCriteria)
    outfall: OutfallCriteria = field(default_factory=OutfallCriteria)
    interception: InterceptionCriteria = field(default_factory=InterceptionCriteria)
    capture: CaptureCriteria = field(default_factory=CaptureCriteria)
    storage: StorageCriteria = field(default_factory=StorageCriteria)
    findings: FindingCriteria = field(default_factory=FindingCriteria)
    improvements: ImprovementCriteria = field(default_factory=ImprovementCriteria)
    added: tuple[Any, ...] = field(default_factory=lambda: tuple(group() for group in _added_groups()))

    def __post_init__(self) -> None:
        if not isinstance(self.profile, str):
            raise CriteriaError(
                "profile is of the wrong kind", got=repr(self.profile), expected="a name", mend="give the name of a set"
            )

    @classmethod
    def of(cls, **values: Any) -> Self:
        """Make criteria from flat names and values; what is not named keeps its default."""
        return cls().replaced(**values)

    def replaced(self, **values: Any) -> Self:
        """Give the same criteria with other values, by flat names.

        Raises
        ------
        CriteriaError
            A name is not a threshold, or a value cannot be used.
        """
        by_group: dict[str, dict[str, Any]] = {}
        for name, value in values.items():
            if name != "profile":
                by_group.setdefault(_home(name), {})[name] = value
        groups = {
            group: dataclasses.replace(getattr(self, group), **own)
            for group, own in by_group.items()
            if group in _GROUPS
        }
        added = tuple(
            dataclasses.replace(group, **by_group[type(group).__name__]) if type(group).__name__ in by_group else group
            for group in self.added
        )
        return dataclasses.replace(self, profile=values.get("profile", self.profile), added=added, **groups)

    def value(self, name: str) -> Any:
        """Give the value of a threshold by its flat name."""
        if name == "profile":
            return self.profile
        group = _home(name)
        if group in _GROUPS:
            return getattr(getattr(self, group), name)
        return next(getattr(each, name) for each in self.added if type(each).__name__ == group)


@cache
def thresholds() -> dict[str, Threshold]:
    """List every threshold by its flat name: `profile`, then group by group, then those of extensions."""
    listed = [Threshold(name="profile", group="", default="neutral", **_PROFILE), *_declared()]
    return {spec.name: spec for spec in listed}


def _declared() -> Iterator[Threshold]:
    groups: list[tuple[str, Any]] = [
        (spec.name, spec.default_factory) for spec in dataclasses.fields(Criteria) if spec.name in _GROUPS
    ]
    groups += [(group.__name__, group) for group in _added_groups()]
    for name, group in groups:
        for spec in dataclasses.fields(group):
            about = {key: spec.metadata[key] for key in ("unit", "meaning", "source")}
            yield Threshold(name=spec.name, group=name, default=spec.default, **about)


def _added_groups() -> tuple[Any, ...]:
    return tuple(group for extension in extensions() for group in extension.criteria)


def _home(name: str) -> str:
    known = thresholds()
    if name not in known:
        raise CriteriaError(
            "There is no such threshold",
            got=name,
            expected="a name that `screening criteria` writes",
            mend="correct it",
        )
    return known[name].group
