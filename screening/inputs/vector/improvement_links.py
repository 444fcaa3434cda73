"""How the improvements of one file hang together: ids, and where the water of one is led."""

from __future__ import annotations

from screening.errors import InputError
from screening.inputs.vector.geometries import listed
from screening.models import Improvement
from screening.schema.work_kinds import OFF


def check_together(items: list[Improvement], file: str) -> None:
    """Refuse improvements that do not fit each other, or lack a number that another one makes needed.

    Raises
    ------
    InputError
        Two share an id, one leads to nothing that is there, or a regrading says too little.
    """
    ids = [improvement.improvement_id for improvement in items]
    repeated = sorted({each for each in ids if ids.count(each) > 1})
    if repeated:
        raise InputError(
            f"Improvements of {file} share an id",
            got=listed(repeated),
            expected="one id an improvement",
            mend="give each its own, or none",
        )
    for improvement in items:
        to = improvement.word("to")
        target = next((other for other in items if other.improvement_id == to), None)
        if to and to.lower() != OFF and (target is None or target.kind not in ("outlet", "storage")):
            places = [other.improvement_id for other in items if other.kind in ("outlet", "storage")]
            raise InputError(
                f"The {improvement.name} of {file} leads to something that is not among the improvements",
                got=repr(to),
                expected=" or ".join([repr(OFF), *map(repr, places)]),
                mend="draw an outlet or a storage with that id, or write `off` where the water is taken away",
            )
    for improvement in items:
        has_elev, has_slope = "elev_m" in improvement.numbers, "slope_pct" in improvement.numbers
        if improvement.kind == "regrade" and not has_elev and not has_slope:
            raise InputError(
                f"The {improvement.name} of {file} says neither a level nor a slope",
                expected="elev_m (or elev_ft), or slope_pct with falls_toward_deg, or both",
                mend="add them",
            )
        if (
            improvement.kind == "regrade"
            and improvement.number("slope_pct") > 0
            and "falls_toward_deg" not in improvement.numbers
        ):
            raise InputError(
                f"The {improvement.name} of {file} has a slope and does not say which way it falls",
                expected="falls_toward_deg, 0 = north, 90 = east",
                mend="add it",
            )


def with_outlet(items: list[Improvement], file: str) -> list[Improvement]:
    """Join a trench drain that does not say where it leads with the one outlet or storage there is."""
    ends = [improvement for improvement in items if improvement.kind in ("outlet", "storage")]
    joined = []
    for improvement in items:
        if improvement.kind == "trench_drain" and not improvement.word("to"):
            if len(ends) != 1:
                raise InputError(
                    f"The {improvement.name} of {file} does not say where its water goes",
                    got=f"{len(ends)} outlets and storages among the improvements",
                    expected="`to`: the id of an outlet or a storage, or `off` where the water is taken away",
                    mend="add `to` to it",
                )
            improvement = Improvement(
                improvement_id=improvement.improvement_id,
                kind=improvement.kind,
                geometry=improvement.geometry,
                numbers=improvement.numbers,
                words={**improvement.words, "to": ends[0].improvement_id},
            )
        elif improvement.word("to").lower() == OFF:
            improvement = Improvement(
                improvement_id=improvement.improvement_id,
                kind=improvement.kind,
                geometry=improvement.geometry,
                numbers=improvement.numbers,
                words={**improvement.words, "to": OFF},
            )
        joined.append(improvement)
    return joined
