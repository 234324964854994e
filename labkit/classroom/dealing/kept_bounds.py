"""A lab's bounds, kept for the next class: its sample draws are the same in every class.

Of the lab a cache says numbers only: exercises stand in it by their places.
"""

from __future__ import annotations

from contextlib import suppress

from pydantic import BaseModel, FiniteFloat, NonNegativeInt

from labkit.classroom.dealing.fairness import bounds_of
from labkit.classroom.dealt import Bounds
from labkit.classroom.users_cache import Cached
from labkit.lab.definition import Lab


class _Kept(BaseModel, extra="forbid", strict=True):
    of: str
    low: FiniteFloat | None
    high: FiniteFloat | None
    equal: NonNegativeInt
    copyable: tuple[NonNegativeInt, ...]
    always: tuple[NonNegativeInt, ...]


def usual_bounds(lab: Lab, spread: float | None, equal: int | None) -> Bounds:
    """What `bounds_of` says, from the cache where it stands there. Raises `ClassError`."""
    cached = Cached("bounds", lab, spread, equal)
    if (kept := cached.read()) is not None:
        with suppress(ValueError, LookupError):
            return _from_kept(lab, cached.of, _Kept.model_validate_json(kept))
    bounds = bounds_of(lab, spread, equal)
    cached.keep(_to_keep(lab, cached.of, bounds).model_dump_json())
    return bounds


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
