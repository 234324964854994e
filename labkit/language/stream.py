"""Chance that is the same on every machine and every Python.

The standard library promises stable output only for `random.random()`, not for choices and
shuffles, so draws come straight from SHA-256 (FIPS 180-4) in counter mode.
"""

from __future__ import annotations

from hashlib import sha256


class Stream:
    """An endless stream of even draws, decided by its key words alone."""

    def __init__(self, *key: str) -> None:
        # A length before each word keeps ("ab", "c") and ("a", "bc") apart.
        self._key = sha256("".join(f"{len(word)}:{word}" for word in key).encode())
        self._count = 0

    def below(self, size: int) -> int:
        """A whole number from 0 to size − 1, each equally likely. Raises `ValueError`."""
        if not 1 <= size < 2**63:
            raise ValueError(f"cannot draw below {size}")
        # The rest above the largest multiple of `size` is thrown away: no number is favoured.
        top = 2**64 - 2**64 % size
        while True:
            word = self._key.copy()
            word.update(self._count.to_bytes(8))
            self._count += 1
            number = int.from_bytes(word.digest()[:8])
            if number < top:
                return number % size

    def order(self, size: int) -> list[int]:
        """The numbers 0 to size − 1 in a drawn order (Fisher and Yates)."""
        numbers = list(range(size))
        for last in range(size - 1, 0, -1):
            other = self.below(last + 1)
            numbers[last], numbers[other] = numbers[other], numbers[last]
        return numbers
