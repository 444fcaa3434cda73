"""What improvements change, in words: what gets worse first, then what gets better."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from screening.models import Trial
from screening.report.cautions import CAUTIONS
from screening.report.findings import clip_text, format_unit_value, is_missing, rain_words
from screening.report.improvements.told import told_table
from screening.schema.codes.improvements import Kind, LotChange, Result, Subject
from screening.schema.codes.verdicts import Outcome
from screening.units import M3_PER_GAL, UnitSystem, format_value

IMPROVEMENT_CAUTIONS: tuple[str, ...] = (
    "What is tried here is an idea on paper: levels, pipes, soil and roots on site decide whether it can be built.",
    "A drain, berm, swale or regrade only moves water. Look at every lot below, and ask for leave before water is sent "
    "onto neighbouring land, a street or a sewer: the discharge has to be permitted.",
    "Before any digging have the utilities located and wait for the marks (811 in the United States); private lines "
    "need a private locate.",
    "A trench 4 ft (1.2 m) deep or more needs a ladder, ramp or stairway; from 5 ft (1.5 m) on, and less deep where "
    "the ground may cave in, it needs protection (29 CFR 1926.651 and 652, or the law of the place).",
    "A grate needs the load class of the heaviest vehicle that the owner lets onto it, deliveries and waste trucks "
    "among them.",
    "Trench drains and culverts are taken as open and never full; where their dimensions are given, a peak beyond what "
    "they take is flagged, and what bypasses it is not followed.",
)
"""Beside the cautions that always hold."""

Words = tuple[str, str]
_SMALL_M3: dict[UnitSystem, float] = {"metric": 10.0, "us": 100.0}
"""Volumes below this are said in litres or gallons; those that are read together below ten times as much."""
_MAX_LISTED = 40


def improvement_cautions() -> tuple[str, ...]:
    """Cautions of improvements, then those that always hold."""
    return (*IMPROVEMENT_CAUTIONS, *CAUTIONS)


def change_findings(trial: Trial, units: UnitSystem) -> list[Words]:
    """Say what changes.

    Returns
    -------
    Mark and words by line: `worse` for red flags, `better`, and `same` for what matters to know besides.
    """
    rows = records_of(told_table(trial, "comparison", units))
    worse = [*_lots_with_more(trial, units), *(_worse(row, trial, units) for row in rows if row["is_red_flag"])]
    better = [_better(row, units) for row in rows if _is_better(row)]
    lines = [("worse", text) for text in worse if text] + [("better", text) for text in better if text]
    return [*lines[:_MAX_LISTED], *(("same", text) for text in _besides(trial, rows, units, len(lines)))]


def summarize_changes(trial: Trial, units: UnitSystem) -> str:
    """Say what changes as plain lines, red flags first, for a terminal."""
    marks = {"worse": "RED FLAG", "better": "better", "same": "note"}
    lines = [f"  {marks[mark]}: {words}" for mark, words in change_findings(trial, units)]
    return "\n".join(["What the improvements change:", *lines])


def _lots_with_more(trial: Trial, units: UnitSystem) -> list[str]:
    texts = []
    lots = trial.comparison.lots
    flagged = lots[lots["is_red_flag"]].sort_values("run_on_difference_m3", ascending=False)
    for lot in flagged.to_dict("records"):
        who = "" if lot["is_chosen"] else ", a neighbour,"
        names = ("run_on_difference_m3", "run_on_before_m3", "run_on_after_m3")
        more, first, then = volumes_words([lot[name] for name in names], units)
        volume = f"{more} more in this storm ({first} before, {then} after)"
        peak = (
            f"peak {format_value(lot['peak_before_l_s'], 'l_s', units)} before, "
            f"{format_value(lot['peak_after_l_s'], 'l_s', units)} after"
        )
        texts.append(f"Lot {clip_text(str(lot['lot_id']), 60)}{who} gets more water: {volume}; {peak}")
    return texts


def _worse(row: dict[str, Any], trial: Trial, units: UnitSystem) -> str:
    subject = clip_text(str(row["subject_id"]), 60)
    kind, both = row["subject_kind"], _both(row, units)
    if kind in (Subject.LOT, Subject.NEIGHBOUR):
        return ""  # said with its peak by _lots_with_more
    if kind == Subject.CHECK:
        asked = _lower(row["what"])
        return f"{subject[:1].upper()}{subject[1:]} is now flagged: {asked} no longer holds{_said(row, units)}"
    if kind == Subject.IMPROVEMENTS:
        return _improvement_words(row, trial, units)
    if kind == Subject.WINDOW:
        return (
            f"{volume_words(row['after'], units)} leave the window where less left it before: who lies beyond is not "
            "assessed"
        )
    new = "a new low spot: " if row["result"] == Result.NEW else ""
    return f"{_subject(row)}: {new}{_lower(row['what'])} grows, {both}"


def _improvement_words(row: dict[str, Any], trial: Trial, units: UnitSystem) -> str:
    improvements = trial.comparison.improvements
    own = next(w for w in improvements.to_dict("records") if f"{w['kind']} {w['improvement_id']}" == row["subject_id"])
    name = _subject(row)
    if row["result"] == Result.TAKES_NOTHING:
        return f"{name} takes no water in this storm"
    if own["kind"] == Kind.STORAGE:
        held = volume_words(own["volume_m3"], units)
        return f"{name} is too small: {volume_words(own['taken_m3'], units)} come to it and it holds {held}"
    peak, capacity = (format_value(own[key], "l_s", units) for key in ("peak_l_s", "capacity_l_s"))
    part = f"its {own['limited_by']} takes"
    return f"{name} is too small: a peak of {peak} comes to it and {part} {capacity}"


def _is_better(row: dict[str, Any]) -> bool:
    if row["subject_kind"] in (Subject.LOT, Subject.NEIGHBOUR):
        return bool(row["result"] == Result.BETTER and row["statistic"] == "run_on_m3")
    if row["subject_kind"] == Subject.LOW_SPOT:
        is_lower = row["statistic"] == "storm_depth_m" and row["result"] in (Result.BETTER, Result.GONE)
        return bool(is_lower and row["before"] > 0.01)
    if row["subject_kind"] == Subject.CHECK and row["outcome_before"] == row["outcome_after"]:
        return False
    return row["result"] in (Result.BETTER, Result.TAKES_WATER)


def _better(row: dict[str, Any], units: UnitSystem) -> str:
    kind, subject = row["subject_kind"], clip_text(str(row["subject_id"]), 60)
    if kind == Subject.IMPROVEMENTS:
        return f"{_subject(row)} takes {volume_words(row['after'], units)}"
    if kind == Subject.CHECK:
        held = "holds" if row["outcome_after"] == Outcome.PASSED else "is no longer flagged"
        return f"{subject[:1].upper()}{subject[1:]}: {_lower(row['what'])} now {held}{_said(row, units)}"
    share = f", {-row['difference'] / row['before']:.0%} less" if row["before"] > 0 else ""
    return f"{_subject(row)}: {_lower(row['what'])} {_both(row, units)}{share}"


def _besides(trial: Trial, rows: list[dict[str, Any]], units: UnitSystem, n_listed: int) -> list[str]:
    checks = [row for row in rows if row["subject_kind"] == Subject.CHECK]
    n_same = sum(row["outcome_before"] == row["outcome_after"] for row in checks)
    lots = trial.comparison.lots
    n_lots = int((lots["result"] == LotChange.SAME).sum())
    rain, taken_up, standing, gone = (
        volume_words(getattr(trial.after.ponding, name), units)
        for name in ("rain_m3", "abstracted_m3", "ponded_m3", "left_window_m3")
    )
    stood, went = (volume_words(getattr(trial.before.ponding, n), units) for n in ("ponded_m3", "left_window_m3"))
    texts = [
        f"{n_same} of {len(checks)} checks come out as before; {n_lots} of {len(lots)} lots in the window get as much "
        "as before",
        f"With the improvements the rain, {rain}, is {taken_up} taken up by the ground, {standing} left standing "
        f"and {gone} "
        f"gone; without them {stood} are left standing and {went} go",
    ]
    if n_listed > _MAX_LISTED:
        texts.insert(0, f"{n_listed - _MAX_LISTED} more changes are in the table")
    return texts


def volumes_words(volumes_m3: Sequence[float], units: UnitSystem) -> list[str]:
    """Write volumes that are read together, all in the unit of the largest; changes of litres stay in litres."""
    largest = max((abs(each) for each in volumes_m3 if not is_missing(each)), default=0.0)
    if largest < 10.0 * _SMALL_M3[units]:
        return [volume_words(each, units, small_m3=10.0 * _SMALL_M3[units]) for each in volumes_m3]
    return [volume_words(each, units, small_m3=0.0) for each in volumes_m3]


def volume_words(volume_m3: float, units: UnitSystem, *, small_m3: float | None = None) -> str:
    """Write a volume as a person would say it: litres or gallons while it is small.

    Examples
    --------
    >>> volume_words(0.25, "metric"), volume_words(25.0, "metric")
    ('250 L', '25.0 m³')
    """
    if is_missing(volume_m3):
        return "not assessed"
    if abs(volume_m3) >= (_SMALL_M3[units] if small_m3 is None else small_m3):
        return format_value(volume_m3, "m3", units)
    # Rounding must not write a minus before nothing.
    amount = round(volume_m3 / M3_PER_GAL if units == "us" else volume_m3 * 1000.0) + 0
    return f"{amount:,} {'gal' if units == 'us' else 'L'}"


def value_words(value: Any, unit: str, units: UnitSystem) -> str:
    """Write a number of the comparison."""
    if is_missing(value):
        return "not assessed"
    return volume_words(float(value), units) if unit == "m3" else format_unit_value(float(value), unit, units)


def pair_words(row: dict[str, Any], units: UnitSystem) -> list[str]:
    """Write a number before and after, in one unit."""
    values = [row["before"], row["after"]]
    if row["unit"] == "m3":
        return volumes_words(values, units)
    return [value_words(value, row["unit"], units) for value in values]


def records_of(frame: Any) -> list[dict[str, Any]]:
    """Rows of a table as dictionaries."""
    rows: list[dict[str, Any]] = frame.to_dict("records")
    return rows


def title_words(trial: Trial, units: UnitSystem) -> str:
    """Name the rain."""
    return rain_words(trial.before.storm.rain, units)


def _subject(row: dict[str, Any]) -> str:
    kind, subject = row["subject_kind"], clip_text(str(row["subject_id"]), 60)
    name = subject if kind == Subject.IMPROVEMENTS else f"{'lot' if kind == Subject.NEIGHBOUR else kind} {subject}"
    return name[:1].upper() + name[1:]


def _both(row: dict[str, Any], units: UnitSystem) -> str:
    before, after = pair_words(row, units)
    return f"{before} before, {after} after"


def _said(row: dict[str, Any], units: UnitSystem) -> str:
    return "" if not row["statistic"] else f" ({_both(row, units)})"


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]
