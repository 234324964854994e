"""Modbus frames in a lab: the fields that describe one, its encoding, mistakes, facts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from labkit.doors.frames import Encoded, Fact
from labkit.families.modbus.frame_facts import FACTS, TELLS, FrameRead, number_fact
from labkit.families.modbus.frames import ModbusFrames, looks_like_reply
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.frame import Frame
from labkit.fieldbus.modbus.functions import Function
from labkit.fieldbus.modbus.messages import (
    BitsReply,
    ExceptionReply,
    ReadRequest,
    RegistersReply,
    Reply,
    Request,
    WriteCoil,
    WriteCoils,
    WriteRegister,
    WriteRegisters,
    WrittenReply,
)
from labkit.fieldbus.modbus.registers import Entry
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import Strict, Text
from labkit.language.expression import Formula, Prose, Value
from labkit.language.problems import definition_error, nearest

Names = Mapping[str, Value]
FUNCTIONS: Final = {function.name.lower().replace("_", "-"): function for function in Function}
_WAYS: Final = ("request", "reply", "refusal")
_NUMBERS: Final = ("address", "start", "number", "count", "values", "code", "bytes")

WRITE_TELLS: Final = {
    "crc-order": "The two CRC bytes are exchanged: the low byte goes first.",
    "no-crc": "The CRC is missing: every frame ends with its two bytes.",
    "document-number": "You wrote the number as documents count it, from 1. In the frame "
    "addresses count from 0: one less.",
    "table-digit": "You wrote the number with the digit of its table. In the frame the function "
    "tells the table, and the address counts from 0.",
    "byte-order": "The bytes of a number are the wrong way round: the high byte goes first. Only "
    "the CRC goes low byte first.",
    "word-order": "The two registers are exchanged.",
    "decimal-for-hex": "You wrote decimal digits where hexadecimal ones are asked for.",
    "exception-bit": "In a refusal 80 is added to the function.",
}


class ModbusFrameFields(Strict):
    """A frame: `request`, `reply` or `refusal` with a function's name, or all its `bytes`.

    `start` is the address in the frame, from 0; `number`, instead of it, as documents have it.
    """

    request: Text | None = None
    reply: Text | None = None
    refusal: Text | None = None
    address: Text | None = None
    start: Text | None = None
    number: Text | None = None
    count: Text | None = None
    values: Text | None = None
    code: Text | None = None
    bytes: Text | None = None


@dataclass(frozen=True, slots=True)
class EncodedFrame(Encoded):
    """A frame that knows whether it is a reply: its bytes alone do not always tell."""

    is_reply: bool = False


@dataclass(frozen=True, slots=True)
class FrameRecipe:
    """A frame's fields that have been read."""

    way: str
    function: Prose | None
    formulas: Mapping[str, Formula]
    reader: FieldReader
    path: tuple[str | int, ...]

    def encode(self, names: Names) -> EncodedFrame:
        """The frame for a scenario. Raises `DefinitionError` where none can be so."""
        try:
            return self._encode(names)
        except PlanError as error:
            raise self.reader.error(str(error), "Change its fields.", *self.path) from error

    def _encode(self, names: Names) -> EncodedFrame:
        if self.function is None:
            data = bytes(self._list("bytes", names, 0xFF))
            frame = Frame.from_bytes(data)
            is_reply = looks_like_reply(frame.message)
        else:
            frame = self._frame(names)
            data, is_reply = frame.to_bytes(), self.way != "request"
        if len(data) > ModbusFrames.most_bytes:
            raise PlanError(
                f"A frame of {len(data)} bytes is too long for a trainee's line, which has room "
                f"for {ModbusFrames.most_bytes}."
            )
        wrong = dict(self._wrong(frame, names))
        return EncodedFrame(
            0,
            data,
            wrong_data=tuple((slip, made) for slip, made in wrong.items() if made != data),
            is_reply=is_reply,
        )

    def _frame(self, names: Names) -> Frame:
        self._refuse_useless()
        address, function = self._number("address", names), self._function(names)
        if self.way == "request":
            return Frame.of_request(address, self._request(function, self._start(names), names))
        return Frame.of_reply(address, self._reply(function, names))

    def _function(self, names: Names) -> Function:
        assert self.function is not None
        word = self.function.render(names)
        if word not in FUNCTIONS:
            raise definition_error(
                self.function.place, f"'{word}' is not known.", nearest(word, FUNCTIONS)
            )
        return FUNCTIONS[word]

    def _start(self, names: Names) -> int:
        if "number" in self.formulas:
            formula = self.formulas["number"]
            return Entry.from_text(_digits(formula.evaluate(names))).protocol_address
        return self._number("start", names)

    def _request(self, function: Function, start: int, names: Names) -> Request:
        if function.reads:
            return ReadRequest(function, start, self._number("count", names))
        values = self._list("values", names)
        if function is Function.WRITE_MULTIPLE_COILS:
            return WriteCoils(start, tuple(map(bool, values)))
        if function is Function.WRITE_MULTIPLE_REGISTERS:
            return WriteRegisters(start, tuple(values))
        return self._write_one(function, start, values)

    def _write_one(
        self, function: Function, start: int, values: list[int]
    ) -> WriteCoil | WriteRegister:
        if len(values) != 1:
            raise PlanError(f"function {function:02X} writes one value, here are {len(values)}.")
        if function is Function.WRITE_SINGLE_COIL:
            return WriteCoil(start, bool(values[0]))
        return WriteRegister(start, values[0])

    def _reply(self, function: Function, names: Names) -> Reply:
        if self.way == "refusal":
            return ExceptionReply(function, self._number("code", names))
        if function in (Function.WRITE_MULTIPLE_COILS, Function.WRITE_MULTIPLE_REGISTERS):
            return WrittenReply(function, self._start(names), self._number("count", names))
        values = self._list("values", names)
        if not function.reads:
            return self._write_one(function, self._start(names), values)
        if function.table.of_bits:
            return BitsReply(function, tuple(map(bool, values)))
        return RegistersReply(function, tuple(values))

    def _refuse_useless(self) -> None:
        useful = {
            "request": {"address", "start", "number", "count", "values"},
            "reply": {"address", "start", "number", "count", "values"},
            "refusal": {"address", "code"},
        }[self.way]
        useless = sorted({*self.formulas} - useful)
        if useless:
            raise PlanError(f"'{useless[0]}' has no use in a {self.way}.")
        if {"start", "number"} <= {*self.formulas}:
            raise PlanError("'start' and 'number' say the same; give one of them.")

    def _number(self, name: str, names: Names) -> int:
        formula = self.formulas.get(name)
        if formula is None:
            raise PlanError(f"such a frame needs '{name}'; add a line '{name}: …'.")
        return _whole(formula, formula.evaluate(names), 0xFFFF)

    def _list(self, name: str, names: Names, most: int = 0xFFFF) -> list[int]:
        formula = self.formulas.get(name)
        if formula is None:
            raise PlanError(f"such a frame needs '{name}'; add a line '{name}: …'.")
        value = formula.evaluate(names)
        items = value if isinstance(value, list | tuple) else [value]
        return [_whole(formula, item, most) for item in items]

    def _wrong(self, frame: Frame, names: Names) -> Iterator[tuple[str, bytes]]:
        data = frame.to_bytes()
        yield "crc-order", data[:-2] + data[:-3:-1]
        yield "no-crc", data[:-2]
        # Who writes a frame by hand is told its CRC, so a mistake before it leaves it right.
        for slip, message in self._wrong_messages(frame.message, names):
            yield slip, data[:1] + message + data[-2:]
        if max(data[:-2]) <= 99:
            yield "decimal-for-hex", bytes(int(f"{byte}", 16) for byte in data[:-2]) + data[-2:]

    def _wrong_messages(self, message: bytes, names: Names) -> Iterator[tuple[str, bytes]]:
        if self.way == "refusal" and self.function is not None:
            yield "exception-bit", bytes([message[0] & 0x7F]) + message[1:]
            return
        if {"start", "number"} & {*self.formulas}:
            start = self._start(names)
            for slip, wrong in (
                ("document-number", start + 1),
                ("table-digit", int(Entry.at(self._function(names).table, start).text)),
            ):
                if wrong <= 0xFFFF:
                    yield slip, message[:1] + wrong.to_bytes(2, "big") + message[3:]
        body = message[1:]
        if len(body) == 4:
            yield "byte-order", message[:1] + body[1::-1] + body[:1:-1]
        if self.way == "request" and len(body) == 9:
            yield "word-order", message[:-4] + message[-2:] + message[-4:-2]


class ModbusFrameReading:
    """See `labkit.doors.frames.FrameReading`."""

    fields = ModbusFrameFields
    facts = FACTS.keys()
    tells = TELLS
    write_tells = WRITE_TELLS

    def recipe(
        self, fields: ModbusFrameFields, reader: FieldReader, *path: str | int
    ) -> FrameRecipe:
        """The recipe of the frame written at `path`. Raises `DefinitionError`."""
        given = [way for way in (*_WAYS, "bytes") if getattr(fields, way) is not None]
        if len(given) != 1:
            raise reader.error(
                "needs one of 'request', 'reply', 'refusal' (with a function) and 'bytes'.",
                f"Functions: {', '.join(FUNCTIONS)}.",
                *path,
            )
        [way] = given
        formulas = {
            name: reader.formula(text, *path, name)
            for name in _NUMBERS
            if (text := getattr(fields, name)) is not None
        }
        if way == "bytes" and len(formulas) > 1:
            raise reader.error(
                "needs nothing beside 'bytes', which are the whole frame.", "Take it away.", *path
            )
        if way == "bytes":
            return FrameRecipe(way, None, formulas, reader, path)
        word = getattr(fields, way)
        function = reader.prose(word, *path, way)
        if not function.names and "{" not in word and word not in FUNCTIONS:
            raise reader.error(f"'{word}' is not known.", nearest(word, FUNCTIONS), *path, way)
        return FrameRecipe(way, function, formulas, reader, path)

    def fact(self, name: str, frame: Encoded) -> Fact:
        """What a frame says. Raises `PlanError` where it does not say that."""
        assert isinstance(frame, EncodedFrame)
        return FACTS[name](FrameRead(frame.data, frame.is_reply))

    def number(self, label: str, piece: bytes, *, signed: bool) -> Fact:
        """A number whose high byte comes first."""
        return number_fact(label, piece, signed=signed)

    def line(self, frame: Encoded, at: int) -> str:
        """The bytes in hexadecimal; they tell no time."""
        return f"{at}: {frame.data.hex(' ').upper()}"


def _digits(value: Value) -> str:
    """A document's number as text: numbers of the coils' table begin with zeros."""
    return f"{value:05d}" if isinstance(value, int) else str(value)


def _whole(formula: Formula, value: Value, most: int) -> int:
    if isinstance(value, bool):
        return int(value)
    if not isinstance(value, int | float) or value != int(value):
        raise definition_error(formula.place, f"'{formula.text}' gives no whole number.")
    if not 0 <= value <= most:
        raise definition_error(
            formula.place, f"'{formula.text}' gives {value:g}, outside 0 to {most}."
        )
    return int(value)
