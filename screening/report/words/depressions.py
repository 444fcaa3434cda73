"""Low spots in words."""

from __future__ import annotations

from screening.report.words.rows import Row, Teller
from screening.schema.codes.depressions import Returns
from screening.schema.criteria import Criteria
from screening.units import UnitSystem

_HOW_OFTEN = {
    Returns.WITHIN_TABLE: "about every",
    Returns.MORE_OFTEN: "more often than every",
    Returns.LESS_OFTEN: "less often than every",
}


def return_words(row: Row) -> str:
    """Say how often the rain comes that fills a low spot or brings water to a wall; empty where it is not known.

    Parameters
    ----------
    row
        With `threshold_return_code` and `threshold_return_bound_yr`.
    """
    code, years = Returns(row["threshold_return_code"]), float(row["threshold_return_bound_yr"])
    if code is Returns.NOT_KNOWN:
        return ""
    # A return period is read off a table: two figures; the ends of the table stay as they are.
    years = float(f"{years:.2g}") if code is Returns.WITHIN_TABLE else years
    return f"{_HOW_OFTEN[code]} {'year' if years == 1 else f'{years:g} years'}"


def _returns(row: Row, criteria: Criteria, units: UnitSystem) -> str:
    return return_words(row)


TELLERS: dict[tuple[str, str], Teller] = {("low_spots", "threshold_returns"): _returns}
"""What tells each sentence, by table and column."""
