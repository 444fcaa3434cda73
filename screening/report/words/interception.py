"""Words of lines across driveways: what speaks for each and against it, and where its drain leads."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from screening.report.words.peaks import peak_why
from screening.report.words.routes import outfall_words
from screening.schema.codes.outfall import Outfall
from screening.schema.criteria import Criteria
from screening.units import UnitSystem

if TYPE_CHECKING:
    from screening.report.words import Teller


def _line_why(row: Any, criteria: Criteria, units: UnitSystem) -> str:
    """What speaks for a line and against it: shares and words alone, so that it reads the same in every unit."""
    has_outfall = row["outlet"] != Outfall.NONE
    said = [f"intercepts {1.0 - float(row['bypass_frac']):.0%} of what comes over the driveway to walls"]
    said.append(
        outfall_words(row["outlet"], row["outlet_zone_id"]) if has_outfall else "no outfall by gravity was found"
    )
    why = peak_why(row["peak_code"], row["peak_limit"])
    if why:
        said.append(f"peak not assessed: {why}")
    if row["drain_bypass_l_s"] > 0.0:
        said.append(f"its {row['drain_limited_by']} takes too little")
    elif row["drain_limited_by"]:
        said.append("the drain takes the peak" if has_outfall else "grate and channel take the peak")
    return "; ".join(said)


def _runs_to(row: Any, criteria: Criteria, units: UnitSystem) -> str:
    return outfall_words(row["kind"], row["zone_id"])


TELLERS: dict[tuple[str, str], Teller] = {
    ("interception_lines", "why"): _line_why,
    ("drain_outlets", "runs_to"): _runs_to,
}
"""What tells each sentence, by table and column."""
