"""Which of several steps must come before which: pairs, what follows from them, orders."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from labkit.kinds.sequence.data import Pair


def followed(pairs: Iterable[Pair]) -> set[Pair]:
    """The pairs, and those that follow: a before b and b before c make a before c."""
    found = set(pairs)
    steps = {step for pair in found for step in pair}
    for middle in steps:
        before = [first for first, then in found if then == middle]
        after = [then for first, then in found if first == middle]
        found |= {(first, then) for first in before for then in after}
    return found


def needed_to_say(pairs: Collection[Pair]) -> list[Pair]:
    """The pairs that do not follow from the others, in their order."""
    known = set(pairs)
    steps = {step for pair in known for step in pair}
    return [
        (first, then)
        for first, then in pairs
        if not any((first, step) in known and (step, then) in known for step in steps)
    ]


def in_order(steps: Sequence[str], pairs: Collection[Pair]) -> list[str]:
    """The steps so that every pair is kept, otherwise as they stand. No circle may be in it."""
    left, ordered = list(steps), list[str]()
    while left:
        waiting = {then for first, then in pairs if first in left}
        step = next(step for step in left if step not in waiting)
        ordered.append(step)
        left.remove(step)
    return ordered


def wrong_pairs(order: Sequence[str], pairs: Iterable[Pair]) -> list[Pair]:
    """The pairs that an order turns round."""
    at = {step: place for place, step in enumerate(order)}
    return [(first, then) for first, then in pairs if at[first] > at[then]]
