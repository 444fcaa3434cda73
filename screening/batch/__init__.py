"""Thousands of lots: grouped into blocks by place, screened by workers of any Dask scheduler, gathered and ranked."""

from __future__ import annotations

from screening.batch.run import BatchOptions, BatchReport, run_batch

__all__ = ["BatchOptions", "BatchReport", "run_batch"]
