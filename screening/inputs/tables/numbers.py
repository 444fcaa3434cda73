"""Numbers as files write them: what Python and pandas take beyond that is no number."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import pandas as pd


def number_of(value: Any) -> float:
    """Read a number; NaN where it is none: yes and no, dates, lists, and digits with an underscore between them.

    Examples
    --------
    >>> number_of(" 1.5e1 "), number_of(3), number_of("1_5"), number_of(True), number_of([3])
    (15.0, 3.0, nan, nan, nan)
    """
    is_text = isinstance(value, str) and "_" not in value
    is_number = isinstance(value, int | float | np.number) and not isinstance(value, bool)
    try:
        return float(value) if is_text or is_number else math.nan
    except (ValueError, OverflowError):
        return math.nan


def numbers_of(column: pd.Series[Any]) -> NDArray[np.float64]:
    """Read a column of numbers; NaN where there is none. Shape (n,).

    Examples
    --------
    >>> import pandas as pd
    >>> numbers_of(pd.Series(["2", None, True, 4]))
    array([ 2., nan, nan,  4.])
    """
    if column.dtype.kind in "iuf":
        return np.asarray(column.to_numpy(dtype=np.float64, na_value=np.nan))
    return np.array([number_of(value) for value in column.tolist()], np.float64)
