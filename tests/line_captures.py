"""Captures of a Modbus line, whose frames pymodbus made: what was heard is known.

The times are those of a line at 19,200 bit/s, 8E1, written as a logger that sees every byte does.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from pymodbus.framer import FramerRTU
from pymodbus.pdu import DecodePDU, ExceptionResponse, ModbusPDU
from pymodbus.pdu.register_message import (
    ReadHoldingRegistersRequest,
    ReadHoldingRegistersResponse,
    WriteSingleRegisterRequest,
)

from labkit.fieldbus.modbus.heard import PlannedDevice, PlannedLine
from labkit.fieldbus.serial.character import CharacterFormat

CHARACTER_S = 11 / 19_200
LINE = PlannedLine(
    19_200,
    CharacterFormat(),
    "controller",
    (PlannedDevice("pump", 7), PlannedDevice("meter", 12), PlannedDevice("valve", 30)),
)


def frame_of(pdu: ModbusPDU) -> bytes:
    """A frame as pymodbus puts it on the line."""
    return FramerRTU(DecodePDU(False)).buildFrame(pdu)


def read(address: int, count: int = 2) -> bytes:
    """The master asks for holding registers."""
    return frame_of(ReadHoldingRegistersRequest(address=0, count=count, dev_id=address))


def values(address: int, registers: tuple[int, ...] = (258, 772)) -> bytes:
    """A device answers with registers."""
    return frame_of(ReadHoldingRegistersResponse(registers=list(registers), dev_id=address))


def write(address: int, value: int = 9) -> bytes:
    """The master writes a register; the answer has the same bytes."""
    return frame_of(WriteSingleRegisterRequest(address=3, registers=[value], dev_id=address))


def refused(address: int, function: int = 3, code: int = 2) -> bytes:
    """A device refuses."""
    return frame_of(ExceptionResponse(function, code, device_id=address))


def spoiled(frame: bytes) -> bytes:
    """The same with a bit turned over in its last byte."""
    return frame[:-1] + bytes([frame[-1] ^ 0x10])


@dataclass
class Capture:
    """Lines of a capture, one after the other."""

    time_s: float = 10.0
    lines: list[tuple[float, bytes]] = field(default_factory=list)

    def say(self, frame: bytes, after_s: float = 0.01) -> Capture:
        """A frame, `after_s` after the end of what came before."""
        self.time_s += after_s
        self.lines.append((self.time_s, frame))
        self.time_s += len(frame) * CHARACTER_S
        return self

    def poll(self, request: bytes, *answers: bytes, after_s: float = 0.005) -> Capture:
        """A request, and what follows it."""
        self.say(request, 0.05)
        for answer in answers:
            self.say(answer, after_s)
        return self

    @property
    def text(self) -> str:
        """As plain text."""
        return "".join(f"{time_s:.6f} {data.hex(' ')}\n" for time_s, data in self.lines)

    @property
    def bytewise(self) -> str:
        """A line a byte."""
        return "".join(
            f"{time_s + at * CHARACTER_S:.6f} {byte:02X}\n"
            for time_s, data in self.lines
            for at, byte in enumerate(data)
        )


def sound(rounds: int = 3) -> Capture:
    """Some rounds of polls of the line as planned."""
    capture = Capture()
    for _ in range(rounds):
        for device in LINE.devices:
            capture.poll(read(device.address), values(device.address))
    return capture
