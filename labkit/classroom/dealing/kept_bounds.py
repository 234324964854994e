"""A lab's bounds, kept for the next class: its sample draws are the same in every class.

What is kept is one small JSON file for each lab's text, labkit, rules of marking and wishes of a
class, in the user's own cache folder. It says nothing of any class, and of the lab only numbers:
exercises stand in it by their places. What cannot be read, or is of anything else, is made again.
"""

from __future__ import annotations

import os
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Final

import orjson
from pydantic import BaseModel, FiniteFloat, NonNegativeInt

from labkit import __version__
from labkit.classroom.dealing.fairness import bounds_of
from labkit.classroom.dealt import Bounds
from labkit.classroom.errors import ClassError
from labkit.classroom.private_place import Place
from labkit.lab.definition import Lab
from labkit.lab.marking_rules import rules_of

CACHE_VARIABLE: Final = "LABKIT_CACHE"
"""Names the folder that takes the place of the user's cache folder."""


class _Kept(BaseModel, extra="forbid", strict=True):
    of: str
    low: FiniteFloat | None
    high: FiniteFloat | None
    equal: NonNegativeInt
    copyable: tuple[NonNegativeInt, ...]
    always: tuple[NonNegativeInt, ...]


def usual_bounds(lab: Lab, spread: float | None, equal: int | None) -> Bounds:
    """What `bounds_of` says, from the cache where it stands there. Raises `ClassError`."""
    wanted = orjson.dumps([lab.digest, __version__, rules_of(lab), spread, equal])
    of = sha256(wanted).hexdigest()
    name = f"bounds-{of[:32]}.json"
    # Whatever is wrong with a cache, the bounds are as good without it.
    with suppress(OSError, RuntimeError, ValueError, LookupError):
        return _from_kept(lab, of, _Kept.model_validate_json((_cache_folder() / name).read_bytes()))
    bounds = bounds_of(lab, spread, equal)
    with suppress(OSError, RuntimeError, ClassError):
        Place(_cache_folder(), synced=False).write(
            _to_keep(lab, of, bounds).model_dump_json(), name
        )
    return bounds


def _cache_folder() -> Path:
    """Where this system keeps what a user's programs can make again. Raises `RuntimeError`."""
    if named := os.environ.get(CACHE_VARIABLE):
        return Path(named)
    if local := os.environ.get("LOCALAPPDATA"):
        return Path(local) / "labkit" / "cache"
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "labkit"


def _to_keep(lab: Lab, of: str, bounds: Bounds) -> _Kept:
    places = {exercise.id: place for place, exercise in enumerate(lab.exercises)}
    copyable, always = (
        tuple(places[id_] for id_ in ids) for ids in (bounds.copyable, bounds.always)
    )
    return _Kept(
        of=of,
        low=bounds.low,
        high=bounds.high,
        equal=bounds.equal,
        copyable=copyable,
        always=always,
    )


def _from_kept(lab: Lab, of: str, kept: _Kept) -> Bounds:
    """Raises `ValueError` when it is of something else, `LookupError` when the lab has less."""
    if kept.of != of or (kept.low or 0) > (kept.high or 0):
        raise ValueError
    ids = [exercise.id for exercise in lab.exercises]
    copyable, always = (
        tuple(ids[place] for place in part) for part in (kept.copyable, kept.always)
    )
    return Bounds(kept.low, kept.high, kept.equal, copyable, always)
