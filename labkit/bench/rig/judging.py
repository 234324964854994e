"""Real readings held against calculated ones."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Final

from labkit.bench.faults import Fault
from labkit.bench.rig.deck import Deck
from labkit.bench.rig.probes import Probe

LAMPS: Final = "lamps"
DARK: Final = "dark"
OFF: Final = "off"


class Verdict(Enum):
    """What a reading says of a card."""

    SOUND = "agrees with the sound rig, not with the fault"
    FAULT = "agrees with the fault, not with the sound rig"
    BOTH = "agrees with both"
    NEITHER = "agrees with neither"
    NOT_JUDGED = "not judged"


@dataclass(frozen=True, slots=True)
class Measured:
    """A figure that a pair read from a meter; `math.inf` is an open circuit."""

    probe: Probe
    value: float


@dataclass(frozen=True, slots=True)
class Heard:
    """What a pair read of a device: `word` is one of those that its family uses.

    `instrument` is "scanner" or "lamps"; a device none of whose lamps is lit is `DARK`.
    """

    instrument: str
    device: str
    word: str


@dataclass(frozen=True, slots=True)
class Judged:
    """A reading with what it says of a card's fault, and why it is not judged where it is not."""

    reading: Measured | Heard
    verdict: Verdict


def agrees(deck: Deck, fault: Fault | None, reading: Measured | Heard) -> bool | None:
    """Whether the rig with this fault (None: sound) may give this reading.

    None where nobody can say: what a scanner says of a damaged line is not calculated.
    """
    if isinstance(reading, Measured):
        return deck.spans(fault)[reading.probe].holds(reading.value)
    dark = reading.instrument == LAMPS and reading.device in deck.dark(fault)
    if dark or reading.word == DARK:
        # One lamp alone may be off with power, too.
        return None if reading.word == OFF else dark == (reading.word == DARK)
    if fault is not None and fault.wired:
        return None
    return deck.said(fault).get((reading.instrument, reading.device)) == reading.word


def judged(deck: Deck, fault: Fault, readings: Sequence[Measured | Heard]) -> list[Judged]:
    """Each reading held against the sound rig and against the fault of a card."""
    return [Judged(reading, _verdict(deck, fault, reading)) for reading in readings]


def _verdict(deck: Deck, fault: Fault, reading: Measured | Heard) -> Verdict:
    sound, faulty = agrees(deck, None, reading), agrees(deck, fault, reading)
    if sound is None or faulty is None:
        return Verdict.NOT_JUDGED
    if sound and faulty:
        return Verdict.BOTH
    if sound:
        return Verdict.SOUND
    return Verdict.FAULT if faulty else Verdict.NEITHER


def still_fitting(deck: Deck, readings: Iterable[Measured | Heard]) -> list[Fault | None]:
    """The faults that none of the readings rules out; None among them is the sound rig."""
    taken = list(readings)
    return [
        fault
        for fault in (None, *deck.works)
        if all(agrees(deck, fault, reading) is not False for reading in taken)
    ]
