"""A value that may be kept apart from what holds it, and is then read when it is first asked for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

T = TypeVar("T")


class Lazy(Generic[T]):
    """A value, or a function that reads it once."""

    def __init__(self, read: Callable[[], T]) -> None:
        self._read = read
        self._value: list[T] = []

    @classmethod
    def of(cls, value: T) -> Lazy[T]:
        """A value that is there already."""
        made = cls(lambda: value)
        made.get()
        return made

    def get(self) -> T:
        """The value, read at the first call."""
        if not self._value:
            self._value.append(self._read())
        return self._value[0]
