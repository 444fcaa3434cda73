"""How the kernels are compiled, when they use threads, and the array types they speak."""

from collections.abc import Callable
from functools import partial, wraps
from types import FunctionType
from typing import Any

import numpy as np
import numpy.typing as npt
from numba import get_num_threads, njit

F32 = npt.NDArray[np.float32]
F64 = npt.NDArray[np.float64]
I32 = npt.NDArray[np.int32]
I64 = npt.NDArray[np.int64]
U8 = npt.NDArray[np.uint8]
Mask = npt.NDArray[np.bool_]

# The disk cache notices a change in a function's own file only: after an edit to what compiled functions of other
# modules call (`neighbours`, `shares`, `joins.find_root`, `joins.rank_by_height`, `conduit_links.target_of`) delete
# `__pycache__`.
compile_as: Callable[..., Any] = partial(njit, cache=True, nogil=True, boundscheck=False, error_model="numpy")

# Below this size waking a second thread gains nothing, and a busy neighbour on its core costs a lot.
SERIAL_CELLS = 1_000_000
STRIP_ROWS = 256

compiled: Callable[[Callable[..., Any]], Any] = compile_as()


def use_threads(n_cells: int) -> bool:
    """Whether a grid is worth more than one thread.

    Parameters
    ----------
    n_cells : int

    Returns
    -------
    bool
    """
    return n_cells >= SERIAL_CELLS and get_num_threads() > 1


def striped(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a sweep over a raster with and without threads, and choose by the size of the first argument.

    The first argument counts by position or by name. The plain variant never touches the thread pool, so many small
    blocks can run at once.

    Parameters
    ----------
    function : function
        Whose outer loop is a `prange`, its rounds free to run in any order.

    Returns
    -------
    function
        Called as the given one.
    """
    assert isinstance(function, FunctionType)
    # numba's disk cache tells functions apart by qualified name and line, not by compile options:
    # without a name of its own the plain variant would load the threaded one.
    plain_function = FunctionType(function.__code__, function.__globals__, f"{function.__name__}_plain")
    plain_function.__qualname__ = f"{function.__qualname__}_plain"
    plain_function.__module__ = function.__module__
    plain = compile_as()(plain_function)
    threaded = compile_as(parallel=True)(function)

    @wraps(function)
    def run(*arrays: Any, **named: Any) -> Any:
        raster = arrays[0] if arrays else next(iter(named.values()))
        return (threaded if use_threads(raster.size) else plain)(*arrays, **named)

    return run


def strip_rows(n_rows: int, n_cols: int) -> I64:
    """First row of each horizontal strip, and the number of rows at the end; one strip for a small grid.

    Strips do not depend on the number of threads, so neither do sums carried from strip to strip.

    Parameters
    ----------
    n_rows, n_cols : int

    Returns
    -------
    (n_strips + 1,) int64
    """
    n_strips = 1
    if n_rows * n_cols >= SERIAL_CELLS:
        n_strips = -(-n_rows // STRIP_ROWS)  # rounded up
    return np.array([n_rows * strip // n_strips for strip in range(n_strips + 1)], np.int64)
