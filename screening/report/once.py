"""What several outputs ask of one result, made once while the result is there."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TypeVar
from weakref import WeakKeyDictionary

from screening.models import BlockResult

Key = TypeVar("Key")
Made = TypeVar("Made")


def once_per_result(make: Callable[[BlockResult, Key], Made]) -> Callable[[BlockResult, Key], Made]:
    """Keep what a function makes of each result, by its other argument; it is shared, so it is only read."""
    kept: WeakKeyDictionary[BlockResult, dict[Key, Made]] = WeakKeyDictionary()

    @wraps(make)
    def made(result: BlockResult, key: Key) -> Made:
        of_result = kept.setdefault(result, {})
        if key not in of_result:
            of_result[key] = make(result, key)
        return of_result[key]

    return made
