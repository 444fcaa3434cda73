"""Columns that several tables have."""

from __future__ import annotations

from screening.schema.columns.kinds import code, code_number, flag, number, sentence, text

LOT_ID = text("lot_id", "Lot", "Id of the lot")
CONTRIBUTING = number(
    "contributing_area_m2", "m2", "Contributing area", "Ground whose water crosses it (steepest descent)"
)
BEYOND = number(
    "context_area_m2",
    "m2",
    "of which from beyond",
    "Part of that ground that lies beyond the window, from coarser elevation; no outline shows it",
)
EDGE = flag(
    "edge_contaminated",
    "Cut by the edge",
    "Unseen ground beyond the window may drain here: numbers are a lower bound",
)
CONFIDENCE_FRAC = number(
    "confidence_frac",
    "frac",
    "Holds under elevation error",
    "Share of the realisations of elevation error in which it holds",
)
CONFIDENCE = sentence("confidence", "Confidence", "That share in words: holds, within elevation error, or not assessed")
RETURN_CODES = (
    code("threshold_return_code", "Threshold rainfall returns", "A `codes.depressions.Returns`"),
    code_number(
        "threshold_return_bound_yr", "Period, or end of the table", "The period, or the end that it lies beyond [yr]"
    ),
)
CONFIDENCE_CODES = (
    code("confidence_code", "Confidence", "Whether it holds: a `codes.verdicts.Confidence`"),
    code("n_counted", "Realisations counted", "Realisations that speak for that code"),
    code("n_realisations", "Realisations", "All of them"),
)
FALL_AWAY = number(
    "fall_away_pct", "pct", "Fall away, indicative", "Fall of the ground away from the wall; negative = toward it"
)
FALL_REQUIRED = number(
    "fall_required_pct", "pct", "Fall required", "Least fall away by the residential code, less where it is paved"
)
FALL_ERROR = number(
    "fall_error_pct", "pct", "Two-point error", "Error of that fall at the 95 % level, from the elevation's"
)
