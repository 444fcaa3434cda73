"""The page of before and after: one file with no network, what changes first, the map with both states."""

from __future__ import annotations

from typing import Any

from screening.models import Trial
from screening.report.cautions import TAGLINE
from screening.report.findings import clip_text, sort_notes
from screening.report.improvements.shapes import PLACES, cell, number_words, payload, taken
from screening.report.improvements.told import told_table
from screening.report.improvements.words import (
    change_findings,
    improvement_cautions,
    records_of,
    title_words,
    value_words,
    volumes_words,
)
from screening.report.words.notes import note_words
from screening.schema.codes.improvements import Result
from screening.schema.codes.notes import NoteSubject
from screening.schema.codes.verdicts import Outcome
from screening.units import UnitSystem, format_value

_OPERATORS = {"<=": "at most", ">=": "at least", "<": "below", "==": "exactly"}
_CSP = (
    "default-src 'none'; connect-src 'none'; img-src data: blob:; style-src 'unsafe-inline'; "
    "script-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
)
_ORDER = {Outcome.FAILED: 0, Outcome.NOT_ASSESSED: 1, Outcome.PASSED: 2}
_SAID = {Outcome.FAILED: "flagged", Outcome.PASSED: "not flagged", Outcome.NOT_ASSESSED: "not assessed"}


def build_improvements_page(trial: Trial, *, units: UnitSystem = "metric", title: str = "") -> str:
    """Build the page that compares a site before and after improvements.

    Parameters
    ----------
    trial
        Both results and their comparison.
    units
        What readers see.
    title
        Of the page.

    Returns
    -------
    HTML, the same to the byte for the same input.

    Raises
    ------
    OutputError
        A page part is missing.
    """
    from markupsafe import Markup

    from screening.report.map.offline import asset_text, json_for_script
    from screening.report.templates import bundle_text, page_template

    styles = ("leaflet/leaflet.css", "page/page.css", "improvements_page.css")
    return page_template("improvements_page.html").render(
        title=clip_text(title or "Proposed improvements tried out", 160),
        tagline=TAGLINE,
        storm=title_words(trial, units),
        csp=_CSP,
        styles=[Markup(asset_text(name)) for name in styles],
        scripts=[Markup(asset_text("leaflet/leaflet.js")), Markup(bundle_text("improvements"))],
        findings=change_findings(trial, units),
        improvements=[
            (clip_text(improvement.name, 60), number_words(improvement, units), taken(trial, improvement, units))
            for improvement in trial.improvements.items
        ],
        rows=_rows(trial, units),
        lots=_lots(trial, units),
        checks=_checks(trial, units),
        notes=_notes(trial),
        cautions=improvement_cautions(),
        payload=Markup(json_for_script(payload(trial, units))),
    )


def _rows(trial: Trial, units: UnitSystem) -> list[dict[str, Any]]:
    """The comparison, what matters first; what stays the same last."""
    rows = records_of(told_table(trial, "comparison", units))
    rows.sort(key=lambda row: (not row["is_red_flag"], PLACES.get(row["result"], 3)))
    return [
        {
            "subject": clip_text(f"{row['subject_kind']} {row['subject_id']}".strip(), 80),
            "what": clip_text(row["what"], 120),
            "before": cell(row, "before", units),
            "after": cell(row, "after", units),
            "result": row["result"],
            "red": row["is_red_flag"],
            "same": row["result"] == Result.SAME and not row["is_red_flag"],
        }
        for row in rows
    ]


def _lots(trial: Trial, units: UnitSystem) -> list[dict[str, Any]]:
    lots = trial.comparison.lots.sort_values(["is_red_flag", "run_on_difference_m3"], ascending=False, kind="stable")
    pairs = [(lot, volumes_words([lot["run_on_before_m3"], lot["run_on_after_m3"]], units)) for lot in records_of(lots)]
    return [
        {
            "lot": clip_text(str(lot["lot_id"]), 60),
            "who": "screened" if lot["is_chosen"] else "neighbour",
            "before": both[0],
            "after": both[1],
            "peaks": " / ".join(format_value(lot[f"peak_{when}_l_s"], "l_s", units) for when in ("before", "after")),
            "result": lot["result"] + (", cut by the edge" if lot["edge_contaminated"] else ""),
            "red": lot["is_red_flag"],
        }
        for lot, both in pairs
    ]


def _checks(trial: Trial, units: UnitSystem) -> list[dict[str, Any]]:
    rows = sorted(records_of(told_table(trial, "improvement_checks", units)), key=lambda row: _ORDER[row["outcome"]])
    found = []
    for row in rows:
        required = value_words(row["threshold"], row["unit"], units)
        value = value_words(row["value"], row["unit"], units)
        compared = f"{value} (required: {_OPERATORS[row['operator']]} {required})"
        if row["statistic"].startswith("has_"):
            compared = {1.0: "yes", 0.0: "no"}.get(row["value"], "not said") + " (required: yes)"
        found.append(
            {
                "improvement": clip_text(row["improvement_id"], 60) or "All improvements",
                "check": row["check"],
                "compared": compared,
                "outcome": _SAID[row["outcome"]],
                "mark": row["outcome"],
                "background": f"{row['note']}. " * bool(row["note"]) + f"Source: {row['source']}.",
            }
        )
    return found


def _notes(trial: Trial) -> list[str]:
    """What was assumed of the improvements, and what the changed ground brings up that was not said before."""
    known = {(note.subject, note_words(note)) for note in trial.before.notes}
    fresh = [
        note
        for note in trial.after.notes
        if (note.subject, note_words(note)) not in known or note.subject is NoteSubject.IMPROVEMENTS
    ]
    return [clip_text(f"{note.kind}, {note.subject}: {note_words(note)}") for note in sort_notes(fresh)]
