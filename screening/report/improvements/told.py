"""Tables of a trial as a reader gets them, with their sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from screening.models import Trial
from screening.report.words import with_sentences
from screening.schema.columns import IMPROVEMENT_TABLES, names
from screening.units import UnitSystem

if TYPE_CHECKING:
    import pandas as pd


def told_table(trial: Trial, name: str, units: UnitSystem = "metric") -> pd.DataFrame:
    """Give the comparison or the checks of a trial with the columns that a reader gets.

    Parameters
    ----------
    trial
        What was tried.
    name
        `comparison` or `improvement_checks`.
    units
        What numbers in sentences are told in.
    """
    frames = {"comparison": trial.comparison.table, "improvement_checks": trial.comparison.checks}
    told = with_sentences(name, frames[name], trial.before.criteria, units)
    return told[names(IMPROVEMENT_TABLES[name])]
