"""The stations as they stand on the line: how each is set, and how soon it answers."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final

from labkit.fieldbus.modbus.frame import Frame
from labkit.fieldbus.modbus.functions import Function
from labkit.fieldbus.modbus.messages import ReadRequest
from labkit.fieldbus.modbus.serving import DeviceTables
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
    """A station as it stands: `response_s` after a request has ended it begins to answer.

    It has so many holding registers, from address 0 on, and can do nothing but have them read.
    """

    name: str
    address: int | None
    setting: Setting
    response_s: float
    works: bool
    polls: bool
    registers: int


@dataclass(frozen=True, slots=True)
class Asked:
    """An entry of the poll list: so many registers of an address, from `start` on."""

    address: int
    registers: int
    function: Function = Function.READ_HOLDING_REGISTERS
    start: int = 0

    @property
    def request(self) -> bytes:
        """The frame that asks for them."""
        read = ReadRequest(self.function, self.start, self.registers)
        return Frame.of_request(self.address, read).to_bytes()


@dataclass(frozen=True)
class Polling:
    """What a master asks in turn, how long it waits for a reply (s), and how often it tries."""

    entries: tuple[Asked, ...]
    timeout_s: float
    tries: int


@lru_cache(maxsize=1024)
def reply_of(station: StationSet, request: bytes) -> bytes | None:
    """What a device answers to a whole frame; None where it is not meant, or is no request."""
    frame = Frame.from_bytes(request)
    if station.address != frame.address or station.polls or len(request) != _REQUEST_BYTES:
        return None
    reply, _ = _tables(station).receive(frame.address, frame)
    return None if reply is None else reply.to_bytes()


_REQUEST_BYTES: Final = 8


def _tables(station: StationSet) -> DeviceTables:
    """Its registers hold numbers that tell devices apart (a choice): 100 times its response time,
    ms, and then one more for each; from 60,000 on they begin anew."""
    first = round(station.response_s * 1e5) % 60_000
    return DeviceTables(
        holding_registers={at: first + at for at in range(station.registers)},
        functions=frozenset({Function.READ_HOLDING_REGISTERS}),
    )


@lru_cache(maxsize=4096)
def received(data: bytes, sent: Setting, read: Setting) -> tuple[Reception, ...]:
    """What a receiver makes of bytes at its own rate and with its own characters, from 0 s on."""
    characters = listen(edges_of(data, sent.form, sent.bit_rate), read.form, read.bit_rate)
    return split_frames(characters, read.form, read.bit_rate)
