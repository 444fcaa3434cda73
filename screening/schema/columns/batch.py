"""Columns of a batch: the summary of each lot, and what became of it."""

from __future__ import annotations

from screening.schema.columns.kinds import Column, text, told
from screening.schema.columns.tables import SUMMARY_COLUMNS
from screening.schema.extensions import added_columns


def batch_columns() -> tuple[Column, ...]:
    """List the columns of a batch as a reader gets them, those that extensions add to the summary included."""
    of_lots = told(SUMMARY_COLUMNS)
    return (
        *of_lots[:2],
        text("status", "Status", "assessed; not assessed (no elevation on it); failed (could not be screened)"),
        text("reason", "Reason", "Why it was not assessed, or failed"),
        *of_lots[2:],
        *(added.column for added in added_columns("summary")),
    )
