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
        return self.keep(key, make()) if value is None else value

    def find(self, key: Hashable) -> T | None:
        """The value kept under a key, or None."""
        return self._values.get(key)

    def keep(self, key: Hashable, value: T) -> T:
        """Keep a value, and give it."""
        if len(self._values) >= self.most:
            self._values.clear()
        self._values[key] = value
        return value
