"""Draws that come out the same on every platform and with every release of numpy.

Only the raw 64-bit output of PCG64 is used, which numpy guarantees for a given seed (NEP 19); the distributions of
`Generator` may change between releases. Sums of uniforms need no transcendental function either.
"""

from collections.abc import Sequence
from typing import TypeVar

import numpy as np

T = TypeVar("T")


class Noise:
    """A stream of draws from one seed."""

    def __init__(self, seed: int) -> None:
        self._bits = np.random.PCG64(seed)

    def uniform(self) -> float:
        """A number in [0, 1)."""
        return (int(self._bits.random_raw()) >> 11) * 2.0**-53

    def normal(self) -> float:
        """Close to standard normal: twelve uniforms less six (variance exactly 1, no value beyond 6)."""
        return sum(self.uniform() for _ in range(12)) - 6.0

    def shuffled(self, items: Sequence[T]) -> list[T]:
        """The items in random order (Fisher and Yates)."""
        order = list(items)
        for last in range(len(order) - 1, 0, -1):
            other = int(self.uniform() * (last + 1))
            order[last], order[other] = order[other], order[last]
        return order
