"""A set-up of the virtual bench from its JSON, by the family that it is of."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from labkit.bench.setup import Setup
from labkit.doors.family import FIRST_FAMILY
from labkit.doors.installed import bench_for


def setup_of(data: Mapping[str, Any]) -> Setup:
    """The set-up. Raises `PlanError`; `NotInstalledError` for a family that is not there."""
    return _setup_of(json.dumps(data, sort_keys=True))


# Several methods of a check read the same set-up; it never changes, and keeps what it worked out.
@lru_cache(maxsize=16)
def _setup_of(text: str) -> Setup:
    data = json.loads(text)
    return bench_for(data.get("family", FIRST_FAMILY)).from_json(data)
