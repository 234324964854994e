"""The fewest slots in which modules for a list of signals can be had, and how they stand there."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, permutations

from labkit.fieldbus.chassis_modules import (
    ModuleType,
    Rails,
    SignalLine,
    can_serve,
    drawn_by,
    of_kind,
)

Apart = Collection[frozenset[str]]
"""Pairs of kinds whose modules may not stand side by side."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """Modules, as numbers in their catalogue, with the slots that they cover and what they draw."""

    modules: tuple[int, ...]
    slots: int
    rails: Rails

    def beats(self, other: Chosen) -> bool:
        """Whether it takes no more of anything."""
        return self.slots <= other.slots and self.rails.within(other.rails)

    def __add__(self, other: Chosen) -> Chosen:
        return Chosen(
            self.modules + other.modules, self.slots + other.slots, self.rails + other.rails
        )


NOTHING = Chosen((), 0, Rails())


def best_choices(
    catalogue: Sequence[ModuleType], lines: Sequence[SignalLine], slots: int
) -> list[Chosen]:
    """All choices in so many slots of which no other takes less of everything, fewest slots first.

    Of such a choice every module is needed. None where the signals cannot be served.
    """
    found = [NOTHING]
    for kind in dict.fromkeys(line.kind for line in lines):
        own = list(_serving(catalogue, kind, of_kind(kind, lines), slots))
        found = _unbeaten(one + other for one in found for other in own)
        found = [each for each in found if each.slots <= slots]
    return found


def gaps_between(kinds: Sequence[str], apart: Apart) -> tuple[list[str], int]:
    """The kinds in the order that leaves the fewest slots empty between them, and how many."""
    orders = [(_met(order, apart), list(order)) for order in permutations(kinds)]
    gaps, best = min(orders, key=lambda order: order[0])
    return best, gaps


def stood(
    catalogue: Sequence[ModuleType], chosen: Sequence[int], first: int, apart: Apart
) -> dict[int, int]:
    """By slot, from the first free one, the modules, as numbers in their catalogue."""
    kinds, _ = gaps_between(list(dict.fromkeys(catalogue[each].kind for each in chosen)), apart)
    slots: dict[int, int] = {}
    at, before = first, ""
    for kind in kinds:
        at += frozenset((before, kind)) in apart
        for each in (each for each in chosen if catalogue[each].kind == kind):
            slots[at] = each
            at += catalogue[each].slots
        before = kind
    return slots


def _met(order: Sequence[str], apart: Apart) -> int:
    return sum(frozenset(pair) in apart for pair in pairwise(order))


def _serving(
    catalogue: Sequence[ModuleType], kind: str, lines: Sequence[SignalLine], slots: int
) -> Iterator[Chosen]:
    """The choices of one kind that serve its lines, none of them more than is needed."""
    own = [number for number, module in enumerate(catalogue) if module.kind == kind]
    found: list[Chosen] = []
    tried = [NOTHING]
    while tried:
        longer = []
        for shorter in tried:
            for number in own:
                if shorter.modules and number < shorter.modules[-1]:
                    continue
                module = catalogue[number]
                one = shorter + Chosen((number,), module.slots, drawn_by([module]))
                if one.slots > slots or any(each.beats(one) for each in found):
                    continue
                if can_serve([catalogue[each] for each in one.modules], lines):
                    found.append(one)
                else:
                    longer.append(one)
        tried = longer
    yield from _unbeaten(found)


def _unbeaten(choices: Iterator[Chosen] | Sequence[Chosen]) -> list[Chosen]:
    kept: list[Chosen] = []
    for one in sorted(choices, key=lambda each: (each.slots, each.rails.at_5_ma)):
        if not any(each.beats(one) for each in kept):
            kept.append(one)
    return kept
