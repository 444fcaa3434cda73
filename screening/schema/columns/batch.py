"""Columns of a batch: the summary of each lot, and what became of it."""

from __future__ import annotations

from screening.schema.columns.kinds import Column, text
from screening.schema.columns.tables import SUMMARY_COLUMNS

BATCH_COLUMNS: tuple[Column, ...] = (
    *SUMMARY_COLUMNS[:2],
    text("status", "Status", "assessed; not assessed (no elevation on it); failed (could not be screened)"),
    text("reason", "Reason", "Why it was not assessed, or failed"),
    *SUMMARY_COLUMNS[2:],
)
