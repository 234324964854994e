"""The secrets of the classes that tests make: a new one each, and the same ones in every run.

Numbers, join codes and who sits beside whom hang on a class's secret: a test that only a rare one
makes fail would fail once in a hundred runs.
"""

from __future__ import annotations

import os
from collections import Counter
from hashlib import sha256


class SameSecrets:
    """Stands in for the module `secrets` where a class gets its secret."""

    def __init__(self) -> None:
        self._made = Counter[str]()

    def token_hex(self, size: int) -> str:
        """The next one of the test that runs."""
        test, *_ = os.environ["PYTEST_CURRENT_TEST"].split(" (")
        self._made[test] += 1
        return sha256(f"{test} {self._made[test]}".encode()).hexdigest()[: 2 * size]
