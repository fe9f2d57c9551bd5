"""What was drawn once and is asked again: a bounded store, so that the same state is not worked out twice."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

T = TypeVar("T")


class Kept(Generic[T]):
    """Values by key, at most so many; when it is full it starts anew.

    A key must name all that the value is made from. Several threads may ask: at worst a value is made twice.
    """

    def __init__(self, most: int) -> None:
        self.most = most
        self._values: dict[Hashable, T] = {}

    def get(self, key: Hashable, make: Callable[[], T]) -> T:
        """The value kept under a key, made where there is none."""
        value = self._values.get(key)
        if value is None:
            value = make()
            if len(self._values) >= self.most:
                self._values.clear()
            self._values[key] = value
        return value
