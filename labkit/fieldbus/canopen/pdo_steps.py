"""The order in which a PDO is set up over SDO: switched off, mapped anew, switched on.

Source: CiA 301 as in several public device manuals: bit 31 of the identifier on, the number of
mapped objects to 0, the objects, their number, then bit 31 off.
"""

from dataclasses import dataclass, replace
from typing import Final

from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.canopen.pdo import PdoMapping, PdoSettings
from labkit.fieldbus.canopen.sdo import Multiplexor
from labkit.fieldbus.canopen.sdo_transfer import write_exchange
from labkit.fieldbus.checked import byte_string, text

IDENTIFIER: Final = 1
"""Subindex of a communication record (CiA 301)."""
TRANSMISSION_TYPE: Final = 2
"""Subindex of a communication record (CiA 301)."""
INHIBIT_TIME: Final = 3
"""Subindex of a communication record (CiA 301)."""
EVENT_TIMER: Final = 5
"""Subindex of a communication record (CiA 301)."""


@dataclass(frozen=True, slots=True)
class SdoWrite:
    """One step: which entry is written with what, and why."""

    at: Multiplexor
    data: bytes
    why: str

    def __post_init__(self) -> None:
        byte_string(self.data, "the data of a step", 4, 1)
        text(self.why, "the reason of a step")

    @property
    def value(self) -> int:
        """The whole number that is written."""
        return int.from_bytes(self.data, "little")

    def frames(self, node: int) -> tuple[Frame, ...]:
        """The frames of the step, the device's answer too."""
        return write_exchange(node, self.at, self.data)


def mapping_steps(settings: PdoSettings, mapping: PdoMapping) -> tuple[SdoWrite, ...]:
    """Every write that sets up a PDO, in the order that a device accepts.

    Inhibit and event times are written only where they are not 0, since not every device has them.

        >>> from labkit.fieldbus.canopen.pdo import Direction
        >>> pdo = PdoSettings.predefined(Direction.TRANSMIT, 1, 5)
        >>> for step in mapping_steps(pdo, PdoMapping.from_words([0x60410010])):
        ...     print(f"{step.at}: 0x{step.value:X}, {step.why}")
        0x1800 subindex 1: 0xC0000185, switch the PDO off
        0x1A00 subindex 0: 0x0, take the mapping back
        0x1A00 subindex 1: 0x60410010, map object 1
        0x1A00 subindex 0: 0x1, say how many objects are mapped
        0x1800 subindex 2: 0xFF, set the transmission type
        0x1800 subindex 1: 0x40000185, switch the PDO on
    """
    record = settings.direction.communication(settings.number)
    mapped = settings.direction.mapping(settings.number)
    off = replace(settings, used=False)
    steps = [
        _write(record, IDENTIFIER, off.identifier_word, 4, "switch the PDO off"),
        _write(mapped, 0, 0, 1, "take the mapping back"),
    ]
    for number, word in enumerate(mapping.words, start=1):
        steps.append(_write(mapped, number, word, 4, f"map object {number}"))
    count = len(mapping.objects)
    steps.append(_write(mapped, 0, count, 1, "say how many objects are mapped"))
    kind = settings.transmission_type
    steps.append(_write(record, TRANSMISSION_TYPE, kind, 1, "set the transmission type"))
    if settings.inhibit_100us:
        inhibit = settings.inhibit_100us
        steps.append(_write(record, INHIBIT_TIME, inhibit, 2, "set the inhibit time"))
    if settings.event_timer_ms:
        timer = settings.event_timer_ms
        steps.append(_write(record, EVENT_TIMER, timer, 2, "set the event time"))
    if settings.used:
        word = settings.identifier_word
        steps.append(_write(record, IDENTIFIER, word, 4, "switch the PDO on"))
    return tuple(steps)


def _write(index: int, subindex: int, value: int, length: int, why: str) -> SdoWrite:
    return SdoWrite(Multiplexor(index, subindex), value.to_bytes(length, "little"), why)
