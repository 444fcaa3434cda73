"""Every check once: what is compared with what, when it can be judged, what it weighs, and what is said of it.

A check stands nowhere else: verdict rows, scores, the main finding, page, brief and visit sheet follow from here.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from screening.errors import CriteriaError
from screening.schema.checks.built_in import BUILT_IN
from screening.schema.checks.declaring import (
    SUBJECT_ID,
    SUBJECT_LAYER,
    SUBJECT_TABLE,
    Check,
    Judged,
    Remark,
    Row,
    columns_of,
)
from screening.schema.codes.verdicts import SubjectKind
from screening.schema.criteria import thresholds
from screening.schema.extensions import extensions

__all__ = [
    "BUILT_IN",
    "SUBJECT_ID",
    "SUBJECT_LAYER",
    "SUBJECT_TABLE",
    "Check",
    "Judged",
    "Remark",
    "Row",
    "all_checks",
    "checks_by_id",
    "checks_of",
    "columns_of",
]


@cache
def all_checks() -> tuple[Check, ...]:
    """List the checks in their order: those of the toolkit and of extensions.

    Raises
    ------
    CriteriaError
        Two have one id, or one names a column or a criterion that is not there.
    """
    added = [check for extension in extensions() for check in extension.checks]
    for check in added:
        _check_names(check)
    found = sorted((*BUILT_IN, *added), key=lambda check: check.order)
    ids = [check.check_id for check in found]
    if len(set(ids)) < len(ids):
        raise CriteriaError(
            "Two checks have one id",
            got=", ".join(sorted({name for name in ids if ids.count(name) > 1})),
            expected="an id of its own for each",
            mend="rename the check in the extension",
        )
    return tuple(found)


def _check_names(check: Check) -> None:
    """Refuse a check that names a column or a criterion that is not there."""
    known = {column.name for column in columns_of(check.subject)}
    columns = [check.quantity, *([check.threshold] if check.is_per_row else [])]
    criteria = [name for name in (check.source, check.weight) if name]
    lost = [name for name in columns if name not in known]
    lost += [name for name in [*criteria, *([] if check.is_per_row else [check.threshold])] if name not in thresholds()]
    if lost:
        raise CriteriaError(
            f"The check {check.check_id} names what is not there",
            got=", ".join(lost),
            expected=f"columns of a {check.subject} and names of criteria",
            mend="correct it in the extension",
        )


@cache
def checks_by_id() -> Mapping[str, Check]:
    """Map the checks by their ids."""
    return {check.check_id: check for check in all_checks()}


@cache
def checks_of(subject: SubjectKind) -> tuple[Check, ...]:
    """List the checks of one kind of subject, in their order."""
    return tuple(check for check in all_checks() if check.subject is subject)
