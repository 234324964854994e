"""Which of a rig's faults make cards: those that the instruments in the room tell from all others.

Two faults are told apart where some reading of the one can be none of the other, by the tolerances
of parts and meter, or where other devices are dark. What a scanner says decides only between faults
that leave the wiring alone, and between those and a sound rig: how real devices take a damaged line
is nobody's plan.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from labkit.bench.faults import Fault
from labkit.bench.rig.by_hand import HandWork
from labkit.bench.rig.probes import Probe
from labkit.bench.rig.spans import Readings, Spans

Said = Mapping[tuple[str, str], str]
"""What is heard or seen, in a word or two, by instrument ("scanner", "lamps") and device."""
Hears = Callable[[Sequence[Fault]], Said]
"""What the scanner and the lamps say with these faults: of settings alone."""

MOST_READINGS = 12
"""Nobody should need more of them on one card."""


@dataclass(frozen=True, slots=True)
class Card:
    """A fault that may be dealt, and how many readings lead to it by the best way."""

    work: HandWork
    readings: int


class Deck:
    """The faults of a rig, and what tells them apart."""

    def __init__(
        self, works: Sequence[HandWork], readings: Readings, hears: Hears, *, lamps: bool
    ) -> None:
        self.readings = readings
        self.lamps = lamps
        self._hears = hears
        self._said: dict[Fault | None, Said] = {}
        self._dark: dict[Fault | None, frozenset[str]] = {}
        # What nothing in the room shows is no fault that anybody could look for.
        self.works = {work.fault: work for work in works if self.apart(work.fault, None)}
        self.unseen = tuple(work for work in works if work.fault not in self.works)

    def spans(self, fault: Fault | None) -> Spans:
        """What a meter may read; None is the sound rig."""
        return self.readings.of(*([fault] if fault else []))

    def said(self, fault: Fault | None) -> Said:
        """What is said with a fault that leaves the wiring alone, or by a sound rig."""
        if fault not in self._said:
            self._said[fault] = self._hears([fault] if fault else [])
        return self._said[fault]

    def dark(self, fault: Fault | None) -> frozenset[str]:
        """The devices without power, where somebody sees their lamps and the cable feeds them."""
        if not self.lamps:
            return frozenset()
        if fault is not None and not fault.wired:
            fault = None
        if fault not in self._dark:
            self._dark[fault] = self.readings.without_power(*([fault] if fault else []))
        return self._dark[fault]

    def telling(self, one: Fault | None, other: Fault | None) -> list[Probe]:
        """The readings of a meter that tell the two apart."""
        a, b = self.spans(one), self.spans(other)
        if a is b:
            return []
        return [probe for probe in self.readings.probes if not a[probe].meets(b[probe])]

    def apart(self, one: Fault | None, other: Fault | None) -> bool:
        """Whether the room's instruments tell the two apart."""
        if one == other:
            return False
        return self._looks_apart(one, other) or bool(self.telling(one, other))

    def _looks_apart(self, one: Fault | None, other: Fault | None) -> bool:
        """Whether lamps and the scanner tell the two apart."""
        if self.dark(one) != self.dark(other):
            return True
        settings = not (one and one.wired) and not (other and other.wired)
        return settings and self.said(one) != self.said(other)

    @cached_property
    def cards(self) -> tuple[Card, ...]:
        """The faults that can be found, none of which has a twin; with the readings they take."""
        found = []
        for fault, work in self.works.items():
            if all(self.apart(fault, other) for other in self.works if other != fault):
                needed = self._readings_to(fault)
                if needed is not None:
                    found.append(Card(work, needed))
        return tuple(found)

    @cached_property
    def twins(self) -> tuple[HandWork, ...]:
        """What is never dealt: no instrument in the room tells it from something else."""
        dealt = {card.work.fault for card in self.cards}
        return tuple(work for fault, work in self.works.items() if fault not in dealt)

    def _readings_to(self, fault: Fault) -> int | None:
        """How many readings leave this fault alone in the running, taking the best one each time.

        The best one leaves the fewest faults on average, each as likely as the others (as
        `labkit.bench.debrief` counts). To ask the scanner is one reading, too.
        """
        running = list(self.works)
        # None stands for what the scanner and the lamps say.
        open_ways: list[Probe | None] = [None, *self.readings.probes]
        for number in range(MOST_READINGS + 1):
            if running == [fault]:
                return number
            # The first of equals, so that a deal comes out again.
            best = min(open_ways, key=lambda way: self._pairs_left(running, way))
            running = self._left_by(running, best)[fault]
            open_ways.remove(best)
        return None

    def _pairs_left(self, running: list[Fault], way: Probe | None) -> int:
        return sum(map(len, self._left_by(running, way).values()))

    def _left_by(self, running: list[Fault], probe: Probe | None) -> dict[Fault, list[Fault]]:
        """Of each fault, those that are left when it is in the rig and this is read."""
        if probe is None:
            return {one: [f for f in running if not self._looks_apart(one, f)] for one in running}
        seen = [(fault, self.spans(fault)[probe]) for fault in running]
        return {one: [f for f, span in seen if span.meets(own)] for one, own in seen}


def in_a_band(cards: Sequence[Card], wanted: int) -> list[Card]:
    """The cards of the narrowest band of difficulty that has enough of them, the most kinds first.

    All of them where there are not enough.
    """
    counts = sorted({card.readings for card in cards})
    for width in range(len(counts)):
        bands = [
            [card for card in cards if low <= card.readings <= counts[at + width]]
            for at, low in enumerate(counts[: len(counts) - width])
        ]
        enough = [band for band in bands if len(band) >= wanted]
        if enough:
            return max(enough, key=lambda band: len({card.work.kind for card in band}))
    return list(cards)


def dealt(cards: Sequence[Card], wanted: int, order: Callable[[int], Sequence[int]]) -> list[Card]:
    """So many of the cards by chance: each kind in its turn, each place and each fault as seldom
    as can be. `order` draws an order of so many things.
    """
    pool = [cards[at] for at in order(len(cards))]
    kinds = list(dict.fromkeys(card.work.kind for card in pool))
    chosen: list[Card] = []
    while pool and len(chosen) < wanted:
        used = [card.work.fault for card in chosen]
        places = [card.work.fault.place for card in chosen]
        turns = [card.work.kind for card in chosen]
        chosen.append(
            min(
                pool,
                key=lambda card: (
                    used.count(card.work.fault),
                    turns.count(card.work.kind),
                    places.count(card.work.fault.place),
                    kinds.index(card.work.kind),
                ),
            )
        )
    return chosen
