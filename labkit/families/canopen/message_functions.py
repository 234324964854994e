"""SDO, NMT, heartbeat and mapping as formulas ask for them; data is a list of bytes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any, Final

from labkit.fieldbus.canopen.abort_codes import abort_words
from labkit.fieldbus.canopen.emergency import Emergency
from labkit.fieldbus.canopen.nmt import NmtCommand, NmtMessage
from labkit.fieldbus.canopen.pdo import MappedObject, PdoMapping
from labkit.fieldbus.canopen.sdo import (
    MOST_EXPEDITED,
    Abort,
    Multiplexor,
    ReadStarted,
    StartRead,
    StartWrite,
)

COMMANDS: Final = {each.words.replace(" ", "-"): each for each in NmtCommand}
"""NMT commands by the words of a lab."""


def nmt_data(command: str, node: int = 0) -> list[int]:
    """The two bytes of an NMT command, such as "start"; node 0 means all nodes."""
    if command not in COMMANDS:
        raise ValueError(f"no NMT command is called {command!r}; known are {', '.join(COMMANDS)}")
    return list(NmtMessage(COMMANDS[command], node).to_frame().data)


def sdo_read(index: int, subindex: int = 0) -> list[int]:
    """The eight bytes that ask for an entry."""
    return list(StartRead(Multiplexor(index, subindex)).to_bytes())


def sdo_write(index: int, subindex: int, value: int, size: int) -> list[int]:
    """The eight bytes that write a whole number of up to four bytes."""
    data = _number(value, size)
    return list(StartWrite(Multiplexor(index, subindex), data, size).to_bytes())


def sdo_answer(index: int, subindex: int, value: int, size: int) -> list[int]:
    """The eight bytes with which a device answers a read."""
    data = _number(value, size)
    return list(ReadStarted(Multiplexor(index, subindex), data, size).to_bytes())


def sdo_abort(index: int, subindex: int, code: int) -> list[int]:
    """The eight bytes of an abort."""
    return list(Abort(Multiplexor(index, subindex), code).to_bytes())


def sdo_abort_words(code: int) -> str:
    """Why a transfer was broken off."""
    return abort_words(code)


def mapping_word(index: int, subindex: int, bits: int) -> int:
    """The 32 bits that map an object into a PDO."""
    return MappedObject(Multiplexor(index, subindex), bits).to_word()


def pdo_data(words: Sequence[int], values: Sequence[int]) -> list[int]:
    """The bytes of a PDO whose mapping has these words."""
    return list(PdoMapping.from_words(words).pack(values))


def emergency_data(code: int, register: int) -> list[int]:
    """The eight bytes of an emergency message, the maker's part zero."""
    return list(Emergency(code, register).to_bytes())


def _number(value: int, size: int) -> bytes:
    if size not in range(1, MOST_EXPEDITED + 1):
        raise ValueError(f"a value that goes with the first message has 1 to 4 bytes, not {size}")
    low = -(1 << 8 * size - 1)
    if not low <= value < 1 << 8 * size:
        raise ValueError(f"{value} does not fit into {size} bytes")
    return (value % (1 << 8 * size)).to_bytes(size, "little")


MESSAGE_FUNCTIONS: Final[Mapping[str, Any]] = MappingProxyType(
    {
        function.__name__: function
        for function in (
            emergency_data,
            mapping_word,
            nmt_data,
            pdo_data,
            sdo_abort,
            sdo_abort_words,
            sdo_answer,
            sdo_read,
            sdo_write,
        )
    }
)
