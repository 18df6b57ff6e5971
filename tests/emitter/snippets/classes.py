"""A class with a constructor, a dataclass, and a function inside a method.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Any


class Counter:
    """Counts."""

    def __init__(self, start: float) -> None:
        self.count: float = start
        self.names: dict[str, float] = {}
        self.last = None

    def add(self, name: str, by: float = 1) -> float:
        self.count += by
        self.names[name] = self.count
        return self.count

    def both(self) -> Any:
        def now() -> float:
            return self.add("inner")

        return [now(), self.count, self.last]


@dataclass(frozen=True)
class Point:
    """A point."""

    x: float
    y: float = 2

    def far(self) -> float:
        return sqrt(self.x * self.x + self.y * self.y)


def f(n: float) -> Any:
    counter = Counter(n)
    counter.add("a")
    counter.add("b", 5)
    one, other = Point(3, 4), Point(x=1)
    return [counter.both(), counter.names, one.far(), other.y, Point(y=7, x=2).y]
