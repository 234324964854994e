"""DeviceNet frames in a lab: the fields that describe one, its encoding, mistakes, facts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Final

from pydantic import Field, model_validator

from labkit.doors.frames import Encoded, Fact
from labkit.families.devicenet.frame_facts import FACTS, TELLS, FrameRead, number_fact
from labkit.fieldbus.can.frame import MAX_DATA_BYTES, Frame
from labkit.fieldbus.can.logline import LogLine
from labkit.fieldbus.devicenet.identifiers import Identifier, Purpose
from labkit.fieldbus.devicenet.messages import (
    DuplicateCheck,
    ExplicitHeader,
    ExplicitRequest,
    ExplicitResponse,
)
from labkit.fieldbus.devicenet.objects import Service
from labkit.fieldbus.errors import PlanError
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import Strict, Text
from labkit.language.expression import Formula, Prose, Value
from labkit.language.problems import definition_error, nearest

Names = Mapping[str, Value]
_CHANNEL: Final = "can0"

PURPOSES: Final = {purpose.name.lower().replace("_", "-"): purpose for purpose in Purpose}
SERVICES: Final = {service.name.lower().replace("_", "-"): service for service in Service}
_REQUESTS: Final = frozenset({Purpose.EXPLICIT_REQUEST, Purpose.UNCONNECTED_REQUEST})
_RESPONSES: Final = frozenset({Purpose.EXPLICIT_RESPONSE})
_EXPLICIT_FIELDS: Final = frozenset({"address", "other", "transaction", "service", "data"})
_NUMBERS: Final = (
    *("identifier", "address", "other", "transaction", "class", "instance", "attribute"),
    *("error", "additional", "vendor", "serial", "response"),
)

WRITE_TELLS: Final = {
    "bits-exchanged": "Message bits and address bits are in the order of another group. In group 2 "
    "the address comes first, in groups 1 and 3 the message.",
    "wrong-group": "Message number and address are right, but for another message group.",
    "decimal-for-hex": "You wrote decimal digits where hexadecimal ones are asked for.",
    "byte-order": "The bytes of a number are the wrong way round: DeviceNet sends the low byte "
    "first.",
    "header-forgotten": "Byte 0 is missing: the message header with the other node's address.",
    "response-bit": "Bit 7 of the service byte is wrong: it is set in responses only.",
    "header-own-address": "The header holds the *other* node's address; this one is in the "
    "identifier already.",
}


class PieceFields(Strict):
    """A piece of the data: a formula for bytes, or a `number` of so many `bytes`."""

    given: Text | None = None
    number: Text | None = None
    bytes: Annotated[int, Field(ge=1, le=8)] = 1
    signed: bool = False

    @model_validator(mode="before")
    @classmethod
    def _plain_text_is_bytes(cls, data: Any) -> Any:
        return {"given": data} if isinstance(data, str) else data


class FrameFields(Strict):
    """A frame: by `purpose` and what it says, or by `identifier` and `data`."""

    identifier: Text | None = None
    purpose: Text | None = None
    address: Text | None = None
    other: Text | None = None
    transaction: Text | None = None
    service: Text | None = None
    class_: Text | None = Field(default=None, alias="class")
    instance: Text | None = None
    attribute: Text | None = None
    error: Text | None = None
    additional: Text | None = None
    vendor: Text | None = None
    serial: Text | None = None
    response: Text | None = None
    data: list[PieceFields] = Field(default_factory=list)

    @model_validator(mode="before")
    @classmethod
    def _one_formula_is_a_list_of_one(cls, data: Any) -> Any:
        if isinstance(data, dict) and isinstance(data.get("data"), str):
            return {**data, "data": [data["data"]]}
        return data


@dataclass(frozen=True, slots=True)
class _Piece:
    formula: Formula
    size: int | None
    signed: bool

    def pack(self, names: Names, order: str) -> bytes:
        value = self.formula.evaluate(names)
        if self.size is None:
            items = value if isinstance(value, list | tuple) else [value]
            return bytes(_whole(self.formula, item, 0, 255) for item in items)
        low = -(256**self.size) // 2 if self.signed else 0
        number = _whole(self.formula, value, low, low + 256**self.size - 1)
        return number.to_bytes(self.size, order, signed=self.signed)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class FrameRecipe:
    """A frame's fields that have been read."""

    formulas: Mapping[str, Formula]
    purpose: Prose | None
    service: Prose | None
    data: tuple[_Piece, ...]
    reader: FieldReader
    path: tuple[str | int, ...]

    def encode(self, names: Names) -> Encoded:
        """The frame for a scenario. Raises `DefinitionError` where none can be so."""
        try:
            return self._encode(names)
        except PlanError as error:
            raise self.reader.error(str(error), "Change its fields.", *self.path) from error

    def _encode(self, names: Names) -> Encoded:
        identifier = self._identifier(names)
        self._refuse_useless(identifier)
        data = self._data(identifier, names, "little")
        if len(data) > MAX_DATA_BYTES:
            raise PlanError(
                f"a frame carries at most {MAX_DATA_BYTES} data bytes; here are {len(data)}."
            )
        wrong = {
            "byte-order": self._data(identifier, names, "big"),
            **dict(self._wrong_bodies(identifier, data)),
            **dict(_decimal_bytes(data)),
        }
        return Encoded(
            identifier.value,
            data,
            tuple(_wrong_identifiers(identifier)),
            tuple((slip, bytes_) for slip, bytes_ in wrong.items() if bytes_ != data),
        )

    def _refuse_useless(self, identifier: Identifier) -> None:
        given = {*self.formulas, *(["service"] if self.service else [])}
        given |= {"data"} if self.data else set()
        useless = sorted(given - _useful(identifier.purpose if self.purpose else None))
        if useless:
            raise PlanError(f"'{useless[0]}' has no use in such a frame.")

    def _identifier(self, names: Names) -> Identifier:
        if self.purpose is None:
            return Identifier.from_value(self._number("identifier", names))
        purpose = _named(self.purpose, names, PURPOSES)
        address = self._number("address", names) if "address" in self.formulas else None
        return Identifier.of(purpose, address)

    def _data(self, identifier: Identifier, names: Names, order: str) -> bytes:
        own = b"".join(piece.pack(names, order) for piece in self.data)
        purpose = identifier.purpose if self.purpose is not None else None
        if purpose is Purpose.DUPLICATE_CHECK:
            return self._check(names, order)
        if purpose in _REQUESTS:
            return bytes([self._header(names).byte]) + self._request(names, own).to_bytes()
        if purpose in _RESPONSES:
            return bytes([self._header(names).byte]) + self._response(names, own).to_bytes()
        return own

    def _check(self, names: Names, order: str) -> bytes:
        vendor, serial = self._number("vendor", names), self._number("serial", names)
        response = bool(self._number("response", names, 0))
        check = DuplicateCheck(vendor, serial, response).to_bytes()
        return check if order == "little" else check[:1] + check[2:0:-1] + check[:2:-1]

    def _header(self, names: Names) -> ExplicitHeader:
        other, transaction = self._number("other", names), self._number("transaction", names, 0)
        return ExplicitHeader(other, transaction)

    def _request(self, names: Names, own: bytes) -> ExplicitRequest:
        if "attribute" in self.formulas:
            own = bytes([_byte(self._number("attribute", names), "the attribute")]) + own
        class_id, instance = self._number("class", names), self._number("instance", names)
        return ExplicitRequest(self._service(names), class_id, instance, own)

    def _response(self, names: Names, own: bytes) -> ExplicitResponse:
        if "error" in self.formulas:
            additional = self._number("additional", names, 0xFF)
            return ExplicitResponse.error(self._number("error", names), additional)
        return ExplicitResponse(self._service(names), own)

    def _service(self, names: Names) -> int:
        if self.service is None:
            raise PlanError("an explicit message has a service; add 'service:'.")
        return int(_named(self.service, names, SERVICES))

    def _number(self, name: str, names: Names, default: int | None = None) -> int:
        formula = self.formulas.get(name)
        if formula is None:
            if default is None:
                raise PlanError(f"such a frame needs '{name}'; add a line '{name}: …'.")
            return default
        return _whole(formula, formula.evaluate(names), 0, 2**32 - 1)

    def _wrong_bodies(self, identifier: Identifier, data: bytes) -> Iterator[tuple[str, bytes]]:
        if identifier.purpose not in _REQUESTS | _RESPONSES or len(data) < 2:
            return
        yield "header-forgotten", data[1:]
        yield "response-bit", bytes([data[0], data[1] ^ 0x80]) + data[2:]
        if identifier.address is not None:
            yield "header-own-address", bytes([data[0] & 0xC0 | identifier.address]) + data[1:]


def _useful(purpose: Purpose | None) -> frozenset[str]:
    """The fields that say something in a frame of this purpose; None: told by its identifier."""
    if purpose is None:
        return frozenset({"identifier", "data"})
    if purpose is Purpose.DUPLICATE_CHECK:
        return frozenset({"address", "vendor", "serial", "response"})
    if purpose in _REQUESTS:
        return _EXPLICIT_FIELDS | {"class", "instance", "attribute"}
    if purpose in _RESPONSES:
        return _EXPLICIT_FIELDS | {"error", "additional"}
    return frozenset({"address", "data"})


def _wrong_identifiers(right: Identifier) -> Iterator[tuple[str, int]]:
    if right.address is not None:
        message, address = right.message, right.address
        exchanged = {
            1: address << 4 | message,
            2: 0x400 | message << 6 | address,
            3: 0x600 | address << 3 | message,
        }
        yield "bits-exchanged", exchanged[right.group]
        for group in sorted({1, 2, 3} - {right.group}):
            try:
                yield "wrong-group", Identifier(group, message, address).value
            except PlanError:
                continue
    yield "decimal-for-hex", int(str(right.value), 16)


def _decimal_bytes(data: bytes) -> Iterator[tuple[str, bytes]]:
    if data and max(data) <= 99:
        yield "decimal-for-hex", bytes(int(str(byte), 16) for byte in data)


class DeviceNetFrameReading:
    """See `labkit.doors.frames.FrameReading`."""

    fields = FrameFields
    facts = FACTS.keys()
    tells = TELLS
    write_tells = WRITE_TELLS

    def recipe(self, fields: FrameFields, reader: FieldReader, *path: str | int) -> FrameRecipe:
        """The recipe of the frame written at `path`. Raises `DefinitionError`."""
        if (fields.identifier is None) == (fields.purpose is None):
            raise reader.error(
                "needs either 'identifier' (and 'data') or 'purpose'.",
                f"Purposes: {', '.join(PURPOSES)}.",
                *path,
            )
        formulas = {}
        for name in _NUMBERS:
            text = getattr(fields, "class_" if name == "class" else name)
            if text is not None:
                formulas[name] = reader.formula(text, *path, name)
        purpose = _slug(fields.purpose, PURPOSES, reader, *path, "purpose")
        service = _slug(fields.service, SERVICES, reader, *path, "service")
        pieces = tuple(
            _read_piece(piece, reader, *path, "data", index)
            for index, piece in enumerate(fields.data)
        )
        return FrameRecipe(formulas, purpose, service, pieces, reader, path)

    def fact(self, name: str, frame: Encoded) -> Fact:
        """What a frame says. Raises `PlanError` where it does not say that."""
        return FACTS[name](FrameRead(frame.identifier, frame.data))

    def number(self, label: str, piece: bytes, *, signed: bool) -> Fact:
        """A number whose low byte comes first."""
        return number_fact(label, piece, signed=signed)

    def line(self, frame: Encoded, at: int) -> str:
        """A line of a log of CAN."""
        return LogLine(float(at), _CHANNEL, Frame(frame.identifier, frame.data)).to_text()


def _slug(
    text: str | None, known: Mapping[str, Any], reader: FieldReader, *path: str | int
) -> Prose | None:
    if text is None:
        return None
    prose = reader.prose(text, *path)
    if not prose.names and "{" not in text and text not in known:
        raise reader.error(f"'{text}' is not known.", nearest(text, known), *path)
    return prose


def _read_piece(piece: PieceFields, reader: FieldReader, *path: str | int) -> _Piece:
    if piece.given is not None:
        return _Piece(reader.formula(piece.given, *path), None, False)
    if piece.number is None:
        raise reader.error(
            "is no piece of data.",
            "Write a formula for bytes, or {number: level, bytes: 2}.",
            *path,
        )
    return _Piece(reader.formula(piece.number, *path, "number"), piece.bytes, piece.signed)


def _named(prose: Prose, names: Names, known: Mapping[str, Any]) -> Any:
    word = prose.render(names)
    if word not in known:
        raise definition_error(prose.place, f"'{word}' is not known.", nearest(word, known))
    return known[word]


def _byte(value: int, what: str) -> int:
    if value > 255:
        raise PlanError(f"{what} is {value}, more than a byte holds.")
    return value


def _whole(formula: Formula, value: Value, low: int, high: int) -> int:
    if isinstance(value, bool) and (low, high) == (0, 2**32 - 1):
        return int(value)
    if isinstance(value, bool) or not isinstance(value, int | float) or value != int(value):
        raise definition_error(formula.place, f"'{formula.text}' gives no whole number.")
    if not low <= value <= high:
        raise definition_error(
            formula.place, f"'{formula.text}' gives {value:g}, outside {low} to {high}."
        )
    return int(value)
