"""How many threads the steps are shared out to: as many as asked for while that is faster, else one."""

from __future__ import annotations

from dataclasses import dataclass, field

_WARM_CALLS = 2
"""First calls of each way that do not count: they may compile."""
_FIRST_GAP = 60
"""Calls until the slower way is tried again; twice as many after each time that it loses."""


@dataclass(kw_only=True)
class Pace:
    """Keeps the time of a step with one thread and with several, and tries the slower way again now and then.

    Threads wait for each other three times a step, and wait by spinning: beside a busy neighbour two threads were
    measured to take seven times as long as one. What is found does not depend on how many there are.

    Parameters
    ----------
    n_threads
        Most that may be used.
    """

    n_threads: int
    step_s: dict[int, float] = field(default_factory=dict)
    n_calls: dict[int, int] = field(default_factory=dict)
    gap: int = _FIRST_GAP
    since_trial: int = 0

    def choose(self) -> int:
        """Threads of the next call."""
        ways = (1, self.n_threads)
        if self.n_threads == 1:
            return 1
        for way in ways:
            if self.n_calls.get(way, 0) <= _WARM_CALLS:
                return way
        faster = min(ways, key=lambda way: self.step_s[way])
        return faster if self.since_trial < self.gap else ways[0] + ways[1] - faster

    def tell(self, n_threads: int, step_s: float) -> None:
        """Note how long a step took with some threads [s]."""
        self.n_calls[n_threads] = self.n_calls.get(n_threads, 0) + 1
        if self.n_calls[n_threads] <= _WARM_CALLS:
            return
        was_trial = self.since_trial >= self.gap
        self.step_s[n_threads] = step_s
        self.since_trial = 0 if was_trial else self.since_trial + 1
        if was_trial:
            won = step_s <= min(self.step_s.values())
            self.gap = _FIRST_GAP if won else 2 * self.gap

    @property
    def most_used(self) -> int:
        """Threads that most calls had."""
        return max(self.n_calls, key=lambda way: self.n_calls[way], default=1)
