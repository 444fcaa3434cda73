"""Calls shared out to processes."""

import multiprocessing
import os

import pytest

from screening.workers import count_processors, run_calls


def square(number):
    return number * number, multiprocessing.parent_process() is not None


def die_elsewhere(number):
    if multiprocessing.parent_process() is not None:
        os._exit(3)
    return number * number


def refuse_three(number):
    if number == 3:
        raise ValueError("not three")
    return number


@pytest.mark.parametrize("n_workers", [1, 2, 3])
@pytest.mark.parametrize("numbers", [[], [4], [5, 1, 3, 2, 9, 7, 8]])
def test_results_come_in_the_order_of_the_numbers(n_workers, numbers):
    told = []
    found = run_calls(square, numbers, n_workers=n_workers, on_done=lambda *counts: told.append(counts))
    assert [result for result, _ in found] == [number * number for number in numbers]
    assert all(n == len(numbers) and 0 < done <= n for done, n in told)
    assert [done for done, _ in told] == sorted(done for done, _ in told)
    assert not told or told[-1] == (len(numbers), len(numbers))
    if n_workers == 1 or len(numbers) < 2:
        assert not any(elsewhere for _, elsewhere in found)


def test_helpers_take_part():
    found = run_calls(square, range(8), n_workers=2)
    assert found[0][1] and not found[-1][1]  # helpers begin at the first number, this process at the last


def test_helpers_that_die_are_made_good():
    assert run_calls(die_elsewhere, range(6), n_workers=2) == [number * number for number in range(6)]


@pytest.mark.parametrize("n_workers", [1, 2])
def test_an_error_is_raised_here(n_workers):
    with pytest.raises(ValueError, match="not three"):
        run_calls(refuse_three, range(5), n_workers=n_workers)


def test_there_is_a_processor():
    assert count_processors() >= 1
