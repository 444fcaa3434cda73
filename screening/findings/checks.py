"""Verdicts: every check of the registry against the rows it judges. Unknown is never a pass."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.models import F64, Block, Bool, Fact, Verdict
from screening.schema.checks import SUBJECT_ID, SUBJECT_LAYER, SUBJECT_TABLE, Check, Judged, Row, checks_of
from screening.schema.codes.verdicts import Operator, Outcome, SubjectKind, VerdictReason
from screening.schema.criteria import Criteria
from screening.schema.extensions import added_columns

if TYPE_CHECKING:
    import pandas as pd

_COMPARE = {
    Operator.AT_MOST: np.less_equal,
    Operator.AT_LEAST: np.greater_equal,
    Operator.BELOW: np.less,
    Operator.EQUAL: np.equal,
}


def evaluate_checks(
    block: Block, *, tables: Mapping[SubjectKind, pd.DataFrame], criteria: Criteria, is_simulation: bool = False
) -> tuple[Verdict, ...]:
    """Make every check of the registry, lot by lot.

    Parameters
    ----------
    block
        Its lots give the order, and its `given` layers what could be assessed.
    tables
        Rows to judge, by what they are: lots in the order of the block, structures, driveways; with `lot_id`, and the
        columns that the checks name.
    criteria
        Thresholds, and the weight of each kind of flag.
    is_simulation
        Leave out checks whose quantity was not measured.

    Returns
    -------
    By lot: its own verdicts, then those of its structures, then of its driveways, each in the order of the checks. Of
    a kind of subject whose layer was not given there is one, of its first check.
    """
    by_lot: dict[str, list[Verdict]] = {lot_id: [] for lot_id in block.lots["lot_id"]}
    context = block.context_elevation
    shared: dict[str, Fact] = {"context_cell_m": context.grid.cell_m if context is not None else float("nan")}
    for kind, table in tables.items():
        table = _with_added(SUBJECT_TABLE[kind], table, criteria)
        checks = [check for check in checks_of(kind) if not is_simulation or check.quantity in table.columns]
        asked = [_ask(check, table, block.given, criteria) for check in checks]
        for lot_id, verdicts in zip(table["lot_id"], _judge_rows(asked, table, shared), strict=True):
            # What stands on no lot of the block is nobody's here.
            if lot_id in by_lot:
                by_lot[lot_id].extend(verdicts)
        if kind in SUBJECT_LAYER and SUBJECT_LAYER[kind] not in block.given and checks:
            for lot_id, own in by_lot.items():
                own.append(_not_given(checks[0], lot_id, "", (SUBJECT_LAYER[kind],)))
    return tuple(verdict for own in by_lot.values() for verdict in own)


def _with_added(name: str, table: pd.DataFrame, criteria: Criteria) -> pd.DataFrame:
    """The table with the columns that extensions make of its rows."""
    added = added_columns(name)
    if not added:
        return table
    rows: list[Row] = table.to_dict("records")  # type: ignore[assignment]
    return table.assign(**{each.column.name: [each.value(row, criteria) for row in rows] for each in added})


@dataclass(frozen=True, kw_only=True, eq=False)
class _Asked:
    """A check with what is the same for all rows, and its outcome and threshold for each."""

    check: Check
    unit: str
    weight: float
    missing: tuple[str, ...]
    threshold: F64
    outcomes: list[Outcome]


def _ask(check: Check, table: pd.DataFrame, given: frozenset[str], criteria: Criteria) -> _Asked:
    threshold = (
        table[check.threshold].to_numpy(float)
        if check.is_per_row
        else np.full(len(table), float(criteria.value(check.threshold)))
    )
    return _Asked(
        check=check,
        unit=check.unit,
        weight=float(criteria.value(check.weight)) if check.weight else 1.0,
        missing=tuple(layer for layer in check.needs if layer not in given),
        threshold=threshold,
        outcomes=_outcomes(check, table, threshold),
    )


def _judge_rows(asked: list[_Asked], table: pd.DataFrame, shared: dict[str, Fact]) -> list[list[Verdict]]:
    """Verdicts of each row, in the order of the checks."""
    columns = [name for name in table.columns if name != "geometry"]
    values = zip(*(table[name].tolist() for name in columns), strict=True)
    rows = [dict(zip(columns, row, strict=True)) | shared for row in values]
    return [
        [
            _not_given(each.check, row["lot_id"], row[SUBJECT_ID[each.check.subject]], each.missing)
            if each.missing
            else _verdict(each, number, row)
            for each in asked
        ]
        for number, row in enumerate(rows)
    ]


def _outcomes(check: Check, table: pd.DataFrame, threshold: F64) -> list[Outcome]:
    """Judge a column of values."""
    value = table[check.quantity].to_numpy(float)
    holds: Bool = _COMPARE[check.operator](value, threshold)
    is_open: Bool = np.isnan(value) | np.isnan(threshold) | _is_unknown(check, table)
    if check.open_where:
        is_open |= table[check.open_where[0]].to_numpy(object) == check.open_where[1]
    if check.error:
        error = table[check.error].to_numpy(float)
        is_open |= np.isnan(error) | (np.abs(value - threshold) < error)
    if check.lower_bound_where:
        # What may be larger can fail an upper limit and pass a lower one; the other way about it settles nothing.
        settles = holds == (check.operator is Operator.AT_LEAST)
        is_open |= table[check.lower_bound_where].to_numpy(bool) & ~settles
    passed = [Outcome.PASSED if each else Outcome.FAILED for each in holds.tolist()]
    return [Outcome.NOT_ASSESSED if left else code for left, code in zip(is_open.tolist(), passed, strict=True)]


def _is_unknown(check: Check, table: pd.DataFrame) -> Any:
    if check.unknown_where is None:
        return np.zeros(len(table), np.bool_)
    column, code = check.unknown_where
    return table[column].to_numpy(object) == code


def _verdict(asked: _Asked, number: int, row: Row) -> Verdict:
    check, outcome = asked.check, asked.outcomes[number]
    is_unknown = check.unknown_where is not None and row[check.unknown_where[0]] == check.unknown_where[1]
    judged = Judged(
        row=row,
        value=float("nan") if is_unknown else float(row[check.quantity]),
        outcome=outcome,
        is_cut=bool(check.lower_bound_where) and bool(row[check.lower_bound_where]),
        is_unknown=is_unknown,
    )
    due = [remark for remark in check.remarks if remark.is_due(judged)]
    return Verdict(
        check_id=check.check_id,
        lot_id=row["lot_id"],
        subject_kind=check.subject,
        subject_id=row[SUBJECT_ID[check.subject]],
        statistic=check.quantity,
        value=judged.value if judged.value == judged.value else None,
        operator=check.operator,
        threshold=float(asked.threshold[number]),
        unit=asked.unit,
        outcome=outcome,
        reasons=tuple(remark.reason for remark in due),
        facts=tuple((name, row[name]) for name in dict.fromkeys(fact for remark in due for fact in remark.facts)),
        aspect=check.aspect,
        is_indicative=check.is_indicative,
        weight=asked.weight,
    )


def _not_given(check: Check, lot_id: str, subject_id: str, layers: tuple[str, ...]) -> Verdict:
    """What is said where a layer that a check needs was not given: nothing was compared."""
    return Verdict(
        check_id=check.check_id,
        lot_id=lot_id,
        subject_kind=check.subject,
        subject_id=subject_id,
        statistic="",
        value=None,
        operator=Operator.BELOW,
        threshold=0.0,
        unit="",
        outcome=Outcome.NOT_ASSESSED,
        reasons=(VerdictReason.LAYER_NOT_GIVEN,),
        facts=(("layers", ", ".join(layers)),),
        aspect=check.aspect,
    )
