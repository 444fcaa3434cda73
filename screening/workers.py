"""Calls of one function shared out to processes: results come in the order of the numbers, whoever made them."""

from __future__ import annotations

import gc
import os
import pickle
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from typing import Any, TypeVar

T = TypeVar("T")
_function: Callable[[int], Any]


def count_processors() -> int:
    """Processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def run_calls(
    function: Callable[[int], T],
    numbers: Iterable[int],
    *,
    n_workers: int = 1,
    on_done: Callable[[int, int], None] = lambda n_done, n: None,
) -> list[T]:
    """Call a function with each number, in this process and in helpers beside it.

    The helpers take the numbers from the first on, this process from the last back, until they meet: so a helper that
    is slow to start costs nothing. Each works with one thread. If helpers die, this process does what they owe.

    Parameters
    ----------
    function
        What pickles, and returns what pickles; the same result in any process. Its kernels should have been compiled.
    numbers
        One call each.
    n_workers
        Processes in all; 1 = no other process is started. A program that asks for more must keep what it does under
        `if __name__ == "__main__":`, because helpers import it.
    on_done
        Told after calls, in this process: how many are done, of how many.

    Returns
    -------
    Results in the order of the numbers.
    """
    asked = list(numbers)
    if asked:
        gc.enable()
    n_helpers = min(n_workers, len(asked)) - 1
    if n_helpers < 1:
        return list(_here(function, asked, on_done))
    import multiprocessing

    pool = ProcessPoolExecutor(
        n_helpers, multiprocessing.get_context("spawn"), _take_function, (pickle.dumps(function),)
    )
    try:
        with _one_thread():
            return _shared(function, asked, [pool.submit(_call, number) for number in asked], on_done)
    finally:
        pool.shutdown(cancel_futures=True)


def _here(function: Callable[[int], T], asked: list[int], on_done: Callable[[int, int], None]) -> Iterator[T]:
    for n_done, number in enumerate(asked, start=1):
        yield function(number)
        on_done(n_done, len(asked))


def _shared(
    function: Callable[[int], T], asked: list[int], futures: list[Future[T]], on_done: Callable[[int, int], None]
) -> list[T]:
    own: list[T] = []
    for future in reversed(futures):
        if not future.cancel():
            break
        own.append(function(asked[len(asked) - 1 - len(own)]))
        on_done(sum(other.done() for other in futures[: -len(own)]) + len(own), len(asked))
    results = []
    for number, future in zip(asked, futures[: len(asked) - len(own)], strict=False):
        try:
            results.append(future.result())
        except BrokenProcessPool:
            results.append(function(number))
        on_done(sum(other.done() for other in futures), len(asked))
    return [*results, *reversed(own)]


def _take_function(pickled: bytes) -> None:
    """Make a helper ready: the function is sent once, not with every number."""
    global _function
    import numba

    numba.set_num_threads(1)
    _function = pickle.loads(pickled)


def _call(number: int) -> Any:
    return _function(number)


@contextmanager
def _one_thread() -> Iterator[None]:
    import numba

    n_threads = numba.get_num_threads()
    numba.set_num_threads(1)
    try:
        yield
    finally:
        numba.set_num_threads(n_threads)
