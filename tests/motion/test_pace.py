"""Threads are used while they pay."""

from screening.motion.pace import Pace


def _run(pace, step_s, n_calls):
    chosen = []
    for _ in range(n_calls):
        way = pace.choose()
        chosen.append(way)
        pace.tell(way, step_s[way])
    return chosen


def test_the_faster_way_is_taken_after_both_were_tried_three_times():
    assert _run(Pace(n_threads=2), {1: 8.0, 2: 5.0}, 12) == [1, 1, 1, 2, 2, 2, 2, 2, 2, 2, 2, 2]
    assert _run(Pace(n_threads=2), {1: 8.0, 2: 50.0}, 12) == [1, 1, 1, 2, 2, 2, 1, 1, 1, 1, 1, 1]


def test_the_slower_way_is_tried_again_ever_more_seldom():
    chosen = _run(Pace(n_threads=4), {1: 8.0, 4: 50.0}, 500)
    trials = [number for number, way in enumerate(chosen) if way == 4][3:]
    assert len(trials) == 3
    assert trials[1] - trials[0] > 100 and trials[2] - trials[1] > 200


def test_a_way_that_becomes_faster_is_found():
    pace = Pace(n_threads=2)
    _run(pace, {1: 8.0, 2: 50.0}, 20)
    assert _run(pace, {1: 8.0, 2: 5.0}, 200)[-1] == 2


def test_one_thread_is_one_thread_and_first_calls_do_not_count():
    pace = Pace(n_threads=1)
    assert _run(pace, {1: 8.0}, 100) == [1] * 100 and pace.most_used == 1
    slow_first = Pace(n_threads=2)
    for _ in range(2):
        slow_first.tell(2, 1e6)
    assert 2 not in slow_first.step_s
