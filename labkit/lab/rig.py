"""A real training rig, as its trainer describes it once: a network as built, and what is done to it
by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256
from typing import Any, Final

from labkit.bench.bench import Bench
from labkit.bench.faults import Fault
from labkit.bench.rig.by_hand import HandWork, hand_work
from labkit.bench.rig.deck import Deck, Said
from labkit.bench.rig.judging import DARK, LAMPS
from labkit.bench.rig.parts import Parts
from labkit.bench.rig.probes import OHMS, VOLTS, Probe, probes_of
from labkit.bench.rig.spans import Meter, Readings
from labkit.bench.setup import Setup
from labkit.bench.situation import Situation
from labkit.doors.network import NetworkRecipe
from labkit.doors.rig import SCANNER, FamilyRig

INSTRUMENTS: Final = (OHMS, VOLTS, SCANNER, LAMPS)


@dataclass(frozen=True, eq=False)
class Rig:
    """A rig as its file says. `kinds` and `places` say what may be put in where; `instruments` are
    those in the room (`INSTRUMENTS`); with `unplug` connectors may be pulled."""

    title: str
    text: str
    family: str
    recipe: NetworkRecipe
    network: Any
    setup: Setup
    kinds: Sequence[str]
    places: Sequence[str]
    instruments: Sequence[str]
    unplug: bool
    parts: Parts
    meter: Meter
    rules: str
    own: FamilyRig

    @property
    def digest(self) -> str:
        """Tells this text from every other."""
        return sha256(self.text.encode()).hexdigest()

    @cached_property
    def works(self) -> tuple[HandWork, ...]:
        """All that may be put in by hand."""
        found = hand_work(self.setup, self.places, self.own.work)
        return tuple(work for work in found if work.kind in self.kinds)

    @cached_property
    def probes(self) -> tuple[Probe, ...]:
        """All readings of a meter, as the room has one."""
        return tuple(
            probe
            for probe in probes_of(self.setup.layout, self.setup.scanner)
            if probe.instrument in self.instruments and (self.unplug or not probe.unplugged)
        )

    @cached_property
    def deck(self) -> Deck:
        """The faults that may be dealt, and what tells them apart."""
        readings = Readings(self.setup, self.parts, self.meter, self.probes)
        return Deck(self.works, readings, self._heard, lamps=LAMPS in self.instruments)

    def _heard(self, faults: Sequence[Fault]) -> Said:
        if not self.said_by:
            return {}
        bench = Bench(self.setup, frozenset(faults), Situation(power=True))
        said = self.own.said(bench)
        return {key: word for key, word in said.items() if key[0] in self.said_by}

    @property
    def said_by(self) -> tuple[str, ...]:
        """The instruments in the room that say words, not figures, and are the family's."""
        return tuple(name for name in self.instruments if name in self.own.words)

    @property
    def words(self) -> dict[str, tuple[str, ...]]:
        """The words that a pair may write of a device, by instrument in the room."""
        found = {name: tuple(self.own.words[name]) for name in self.said_by}
        if LAMPS in self.instruments and self.setup.layout.conductors.power:
            found[LAMPS] = (*found.get(LAMPS, ()), DARK)
        return found
