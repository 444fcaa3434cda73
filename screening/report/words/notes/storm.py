"""Sentences of notes on the rain, its runoff and its peaks, and on the simulation of elevation error."""

from __future__ import annotations

from collections.abc import Mapping

from screening.models import NoteValue
from screening.report.words.notes.template import Composed, Template
from screening.schema.codes.notes import NoteCode
from screening.storm.rainfall_tables import period_words

_LIMITS = {
    "n_time": "time of concentration taken as the nearer of 0.1 and 10 h",
    "n_ratio": "Ia/P taken as the nearer of 0.10 and 0.50",
    "n_number": "curve number below 40",
}
_SIMULATED = "findings were simulated in {n_realisations} realisations of elevation error: RMSE {rmse_m:g} m "
_CORRELATED = (
    ", correlation length {correlation_m:g} m, {uncorrelated_frac:.0%} of the variance uncorrelated, seed {seed}; "
    "infiltration was not"
)


def _out_of_range(values: Mapping[str, NoteValue]) -> str:
    said = [
        f"{what} at {values[name]} of {values['n_places']} places" for name, what in _LIMITS.items() if values[name]
    ]
    return "graphical method: " + "; ".join(said)


def _duration(values: Mapping[str, NoteValue]) -> str:
    years, first_yr, last_yr = (float(values[name]) for name in ("return_period_yr", "first_yr", "last_yr"))
    often = period_words(years, first_yr=first_yr, last_yr=last_yr)
    return f"the stated depth is taken to fall in {values['duration_h']:g} h: by the table it comes {often}"


TEMPLATES: dict[NoteCode, Template] = {
    NoteCode.RAIN_ASSUMED: "no storm was asked for: {label} ({depth_mm:.1f} mm) is taken, from {source}",
    NoteCode.RAIN_DURATION_ASSUMED: Composed(("duration_h", "return_period_yr", "first_yr", "last_yr"), _duration),
    NoteCode.RAIN_OF_MAXIMA: "the table is of annual maxima, which below 25 years give less rain than a partial "
    "duration series (6 % less at 2 years in one table seen): the partial duration table is the usual one for drainage",
    NoteCode.SOIL_GROUP_UNKNOWN: "soil group unknown on {share_frac:.0%} of the window: its runoff is computed as "
    "group D, an upper bound",
    NoteCode.RUNOFF_WEIGHTED: "on {n_more} of {n_lots} lots the runoff, added up cell by cell (weighted Q), is over "
    "{more_frac:.0%} more than their composite curve number would give; the larger is reported",
    NoteCode.OPEN_SPACE_ASSUMED: "ground that no layer covers is open space in {condition} condition "
    "(TR-55 Table 2-2a)",
    NoteCode.DEVELOPED_OPEN: "developed land cover is open space between the mapped roofs, driveways and roads",
    NoteCode.DEVELOPED_TWICE: "developed land cover has the impervious share of its class; roofs and pavement that are "
    "mapped as well are counted twice there: an upper bound of runoff",
    NoteCode.TIMES_INSIDE_ONLY: "times of concentration count the way inside the window only, and ground beyond has a "
    "coefficient of {coefficient:g}: peaks of water from beyond are too high rather than too low",
    NoteCode.TWO_YEAR_RAIN_ASSUMED: "the 2-year, 24-hour rain is not known: {depth_mm:.0f} mm is taken for the time of "
    "sheet flow",
    NoteCode.PEAKS_GRAPHICAL: "no rain intensity is known: peaks are those of a 24-hour rain of type {distribution} by "
    "the graphical method",
    NoteCode.PEAKS_OUT_OF_RANGE: Composed(("n_time", "n_ratio", "n_number", "n_places"), _out_of_range),
    NoteCode.ERROR_STATED: _SIMULATED + "(as stated)" + _CORRELATED,
    NoteCode.ERROR_OF_QUALITY_LEVEL: _SIMULATED + "(of lidar quality level {quality_level})" + _CORRELATED,
}
