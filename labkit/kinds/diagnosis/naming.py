"""What is said of faults, held against the faults that are in the bench.

Where several may be named, each thing said goes to the fault that it fits best, so that the order
in which a trainee found them does not matter.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import permutations, zip_longest
from typing import Any, Final

from labkit.bench.conductors import Conductors
from labkit.bench.faults import (
    AtConnector,
    Broken,
    Corroded,
    Earthed,
    Fault,
    Landed,
    Loose,
    Touching,
)
from labkit.bench.layout import Layout
from labkit.bench.twins import twins_of
from labkit.kinds.diagnosis.data import Said, Shares

WITH_WIRES: Final = ("broken", "loose", "touching", "landed", "corroded", "earthed")
ELSEWHERE: Final = "That is the kind of fault, but it is somewhere else."
NEITHER: Final = "Neither the fault nor its place is right."
TEST_AGAIN: Final = "After each repair the whole network is tested again."


@dataclass(frozen=True, slots=True)
class Named:
    """What naming earned, a sentence for each thing said, and the slip; "" where all is found."""

    credit: float
    lines: list[str]
    slip: str


def several_named(
    layout: Layout, faults: Sequence[Fault], said: Sequence[Said], shares: Shares
) -> Named:
    """Each fault earns its part; naming more than there are takes as much away."""
    each = {"fault": shares["fault"] / len(faults), "place": shares["place"] / len(faults)}

    def earned(one: Said, fault: Fault | None) -> float:
        sort, place = fits(layout, one, fault)
        return each["fault"] * sort + each["place"] * place

    paired = _paired(said, faults, earned)
    credit, found, lines = 0.0, 0, []
    for number, (one, fault) in enumerate(paired, 1):
        if one is None:
            continue
        credit += earned(one, fault) if fault else -sum(each.values())
        found += fits(layout, one, fault) == (True, True)
        lines.append(f"Fault {number}: {_told(layout, one, fault)}")
    if len(said) < len(faults):
        left = "One fault more is" if len(faults) - len(said) == 1 else "More faults are"
        lines.append(f"{left} to be named. {TEST_AGAIN}")
    slip = _slip([fits(layout, one, fault) for one, fault in paired if one], found, len(faults))
    return Named(max(credit, 0.0), lines, slip)


def fits(layout: Layout, said: Said, fault: Fault | None) -> tuple[bool, bool]:
    """Whether the kind of a fault is named, with its conductors, and whether its place is."""
    if fault is None:
        return False, False
    wires = wires_of(fault, layout.conductors)
    sort = fault.kind == said["fault"] and wires == said_wires(said)
    return sort, said["place"] in accepted_places(layout, fault)


def other_sort(same_sort: Sequence[Fault], place: Sequence[Fault]) -> str:
    """What is wrong with a kind where the place is right."""
    if any(fault in place for fault in same_sort):
        return "That is the kind of fault and its place, but other conductors are concerned."
    return "The place is right, but the fault is of another kind."


def accepted_places(layout: Layout, fault: Fault) -> frozenset[str]:
    """The places that count as the fault's own.

    Twins are among them (`labkit.bench.twins`): a conductor that is open at one end of a cable
    cannot be told from one open at its other end by any measurement. Two that touch can hardly, so
    both ends and the cable itself count for every fault at a connector.
    """
    found = {fault.place, *(twin.place for twin in twins_of(layout, fault))}
    if isinstance(fault, AtConnector):
        for piece in layout.pieces.values():
            if fault.connector in (piece.a, piece.b):
                found |= {piece.a, piece.b, piece.id}
    return frozenset(found)


def wires_of(fault: Fault, conductors: Conductors) -> frozenset[str]:
    """The conductors that a fault concerns."""
    if isinstance(fault, Broken | Loose | Corroded | Earthed):
        return frozenset({fault.wire.label})
    if isinstance(fault, Touching):
        return frozenset({fault.a.label, fault.b.label})
    if isinstance(fault, Landed):
        return frozenset(
            wire.label
            for wire, terminal in zip(conductors.wires, fault.terminals, strict=True)
            if terminal != wire.terminal
        )
    return frozenset()


def said_wires(said: Said) -> frozenset[str]:
    """The conductors that are named, where the kind of fault asks for them."""
    return frozenset(texts(said.get("wires"))) if said["fault"] in WITH_WIRES else frozenset()


def texts(value: Any) -> list[str]:
    """The texts of what should be a list of them."""
    return [item for item in value if isinstance(item, str)] if isinstance(value, list) else []


def _paired(
    said: Sequence[Said],
    faults: Sequence[Fault],
    earned: Callable[[Said, Fault | None], float],
) -> list[tuple[Said | None, Fault | None]]:
    """Each thing said with the fault that it fits best; None with what is left over."""
    places = [*faults, *[None] * (len(said) - len(faults))]
    best = max(
        permutations(places),
        key=lambda order: sum(earned(*pair) for pair in zip(said, order, strict=False)),
    )
    return list(zip_longest(said, best))


def _told(layout: Layout, said: Said, fault: Fault | None) -> str:
    if fault is None:
        return "there is no such fault in the bench. What is right and named takes marks away."
    sort, place = fits(layout, said, fault)
    if sort and place:
        return f"found, {fault.words_on(layout)}."
    if sort:
        return ELSEWHERE
    same_sort = [fault] if fault.kind == said["fault"] else []
    return other_sort(same_sort, [fault]) if place else NEITHER


def _slip(fitting: Sequence[tuple[bool, bool]], found: int, faults: int) -> str:
    if found == faults:
        return "" if len(fitting) == faults else "one-too-many"
    if found:
        return "one-left"
    if any(sort for sort, _ in fitting):
        return "wrong-place"
    return "wrong-fault" if any(place for _, place in fitting) else "not-found"
