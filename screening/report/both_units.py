"""Text in both unit systems, where it differs: the reader chooses in the page."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Any

from screening.errors import OutputError
from screening.units import UnitSystem


@dataclass(frozen=True)
class BothUnits:
    """One text in two unit systems.

    Parameters
    ----------
    metric, us
        The text in each.
    chosen
        Which of them is shown first.
    """

    metric: str
    us: str
    chosen: UnitSystem

    def __str__(self) -> str:
        return self.us if self.chosen == "us" else self.metric

    def __html__(self) -> str:
        both = f'data-metric="{escape(self.metric)}" data-us="{escape(self.us)}"'
        return f"<span {both}>{escape(str(self))}</span>"

    def as_data(self) -> dict[str, str]:
        """The text as the page's script reads it."""
        return {"metric": self.metric, "us": self.us}


def merge_units(metric: Any, us: Any, chosen: UnitSystem) -> Any:
    """Merge the same data made in two unit systems: texts that differ become `BothUnits`.

    Parameters
    ----------
    metric, us
        Dicts, lists and tuples of plain values, alike but for texts.
    chosen
        Which is shown first.

    Returns
    -------
    The data; tuples become lists, but in what both hold as the very same object.

    Raises
    ------
    OutputError
        They differ in more than texts.

    Examples
    --------
    >>> str(merge_units(["1 m", 2], ["3.3 ft", 2], "us")[0])
    '3.3 ft'
    """
    if metric is us:
        return metric
    if isinstance(metric, dict) and isinstance(us, dict) and metric.keys() == us.keys():
        return {key: merge_units(value, us[key], chosen) for key, value in metric.items()}
    if isinstance(metric, list | tuple) and isinstance(us, list | tuple) and len(metric) == len(us):
        return [merge_units(one, other, chosen) for one, other in zip(metric, us, strict=True)]
    if isinstance(metric, str) and isinstance(us, str):
        return metric if metric == us else BothUnits(metric, us, chosen)
    if metric != us and not (metric != metric and us != us):
        raise OutputError("A page differs by units in more than its texts", got=f"{metric!r} and {us!r}"[:200])
    return metric
