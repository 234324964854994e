"""The stations as they stand on the line: how each is set, and how soon it answers."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final

from labkit.fieldbus.modbus.frame import Frame
from labkit.fieldbus.modbus.functions import Function
from labkit.fieldbus.modbus.messages import ReadRequest, RegistersReply
from labkit.fieldbus.serial.character import CharacterFormat
from labkit.fieldbus.serial.listening import edges_of, listen
from labkit.fieldbus.serial.receiving import Reception, split_frames
from labkit.fieldbus.serial.silence import silence


@dataclass(frozen=True)
class Setting:
    """Bit rate and characters that a station sends and reads with."""

    bit_rate: float
    form: CharacterFormat

    @cached_property
    def silence_s(self) -> float:
        """Between two frames."""
        return silence(self.bit_rate, self.form).between_s

    def time_s(self, data: bytes) -> float:
        """How long these bytes take."""
        return len(data) * self.form.time_s(self.bit_rate)


@dataclass(frozen=True)
class StationSet:
    """A station as it stands: `response_s` after a request has ended it begins to answer."""

    name: str
    address: int | None
    setting: Setting
    response_s: float
    works: bool
    polls: bool


@dataclass(frozen=True, slots=True)
class Asked:
    """An entry of the poll list: so many holding registers of an address, from the first on."""

    address: int
    registers: int

    @property
    def request(self) -> bytes:
        """The frame that asks for them."""
        read = ReadRequest(Function.READ_HOLDING_REGISTERS, 0, self.registers)
        return Frame.of_request(self.address, read).to_bytes()


def reply_of(station: StationSet, request: bytes) -> bytes | None:
    """What a device answers to a whole frame; None where it is not meant, or is no request.

    Its registers hold numbers that tell devices apart (a choice): 100 times its response time, ms,
    and then one more for each.
    """
    frame = Frame.from_bytes(request)
    if station.address != frame.address or station.polls or len(request) != _REQUEST_BYTES:
        return None
    asked = frame.request
    assert isinstance(asked, ReadRequest)
    first = round(station.response_s * 1e5)
    values = tuple(first + at for at in range(asked.count))
    reply = RegistersReply(Function.READ_HOLDING_REGISTERS, values)
    return Frame.of_reply(frame.address, reply).to_bytes()


_REQUEST_BYTES: Final = 8


@lru_cache(maxsize=4096)
def received(data: bytes, sent: Setting, read: Setting) -> tuple[Reception, ...]:
    """What a receiver makes of bytes at its own rate and with its own characters, from 0 s on."""
    characters = listen(edges_of(data, sent.form, sent.bit_rate), read.form, read.bit_rate)
    return split_frames(characters, read.form, read.bit_rate)
