"""CANopen frames in a lab: the fields that describe one, its encoding, mistakes, facts."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from labkit.doors.frames import Encoded, Fact
from labkit.families.canopen.frame_facts import FACTS, TELLS, FrameRead, number_fact, other_end
from labkit.families.canopen.message_functions import (
    COMMANDS,
    emergency_data,
    nmt_data,
    sdo_abort,
    sdo_answer,
    sdo_read,
    sdo_write,
)
from labkit.fieldbus.can.frame import MAX_DATA_BYTES, Frame
from labkit.fieldbus.can.logline import LogLine
from labkit.fieldbus.canopen.identifiers import CobId, CommunicationObject, identifier
from labkit.fieldbus.canopen.nmt import NmtState
from labkit.fieldbus.canopen.sdo import Multiplexor, WriteStarted
from labkit.fieldbus.errors import PlanError
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import Strict, Text
from labkit.language.expression import Formula, Prose, Value
from labkit.language.problems import definition_error, nearest

Names = Mapping[str, Value]
_Object = CommunicationObject
_NUMBERS: Final[tuple[str, ...]] = (
    *("identifier", "data", "node", "index", "subindex", "value", "size", "code", "bits"),
)
_WORDS: Final[tuple[str, ...]] = ("command", "state")
STATES: Final = {state.words: state for state in NmtState if state is not NmtState.INITIALISING}
_PDOS: Final = {each.name.lower(): each for each in CommunicationObject if each.is_pdo}
_ENTRY: Final = frozenset({"node", "index", "subindex"})
MESSAGES: Final[Mapping[str, tuple[CommunicationObject, frozenset[str]]]] = {
    "nmt": (_Object.NMT, frozenset({"node", "command"})),
    "sync": (_Object.SYNC, frozenset()),
    "boot-up": (_Object.ERROR_CONTROL, frozenset({"node"})),
    "heartbeat": (_Object.ERROR_CONTROL, frozenset({"node", "state"})),
    "emergency": (_Object.EMCY, frozenset({"node", "code", "bits"})),
    "sdo-read": (_Object.SDO_REQUEST, _ENTRY),
    "sdo-answer": (_Object.SDO_REPLY, _ENTRY | {"value", "size"}),
    "sdo-write": (_Object.SDO_REQUEST, _ENTRY | {"value", "size"}),
    "sdo-written": (_Object.SDO_REPLY, _ENTRY),
    "sdo-abort": (_Object.SDO_REPLY, _ENTRY | {"code"}),
    **{name: (each, frozenset({"node", "data"})) for name, each in _PDOS.items()},
}
"""What a frame may be, on which identifier, and which fields say something in it."""

WRITE_TELLS: Final = {
    "byte-order": "The bytes of a number are the wrong way round: CANopen sends the low byte "
    "first, of an index too.",
    "decimal-for-hex": "You wrote decimal digits where hexadecimal ones are asked for.",
    "node-forgotten": "The node-ID is missing: it is added to the base of the identifier.",
    "other-direction": "That identifier goes the other way: 600 + node to the device, 580 + node "
    "from it; seen from the device, it transmits TPDOs and receives RPDOs.",
    "size-forgotten": "The command byte says how many of the four bytes are used: 2F one, 2B two, "
    "27 three, 23 all four.",
    "padding-forgotten": "An SDO message always has eight bytes; those not used are 00.",
}


class CanopenFrameFields(Strict):
    """A frame: a `message` and what it says, or `identifier` and `data`."""

    message: Text | None = None
    identifier: Text | None = None
    data: Text | None = None
    node: Text | None = None
    command: Text | None = None
    state: Text | None = None
    index: Text | None = None
    subindex: Text | None = None
    value: Text | None = None
    size: Text | None = None
    code: Text | None = None
    bits: Text | None = None


@dataclass(frozen=True, slots=True)
class FrameRecipe:
    """A frame's fields that have been read."""

    message: str | None
    formulas: Mapping[str, Formula]
    words: Mapping[str, Prose]
    reader: FieldReader
    path: tuple[str | int, ...]

    def encode(self, names: Names) -> Encoded:
        """The frame for a scenario. Raises `DefinitionError` where none can be so."""
        try:
            return self._encode(names)
        except (PlanError, ValueError) as error:
            raise self.reader.error(str(error), "Change its fields.", *self.path) from error

    def _encode(self, names: Names) -> Encoded:
        if self.message is None:
            value, data = identifier(self._number("identifier", names)), self._bytes(names)
            return Encoded(value, data, (), tuple(_wrong_data(None, data)))
        kind, _ = MESSAGES[self.message]
        node = self._number("node", names, 0 if self.message == "nmt" else None, kind.of_a_node)
        cob_id = CobId(kind, node if kind.of_a_node else None)
        data = _MADE[self.message](self, names) if self.message in _MADE else self._bytes(names)
        if len(data) > MAX_DATA_BYTES:
            raise PlanError(f"a frame carries at most 8 data bytes; here are {len(data)}.")
        wrong = {**dict(_wrong_data(self.message, data))}
        return Encoded(
            cob_id.value,
            data,
            tuple(_wrong_identifiers(cob_id)),
            tuple((slip, made) for slip, made in wrong.items() if made != data),
        )

    def entry(self, names: Names) -> tuple[int, int]:
        """Index and subindex."""
        return self._number("index", names), self._number("subindex", names, 0)

    def number(self, name: str, names: Names, default: int | None = None) -> int:
        """A number that the message needs."""
        return self._number(name, names, default)

    def word(self, name: str, names: Names, known: Mapping[str, Any]) -> str:
        """A word that the message needs, one of those known."""
        if name not in self.words:
            raise PlanError(f"such a frame needs '{name}'; add a line '{name}: …'.")
        word = self.words[name].render(names)
        if word not in known:
            raise definition_error(
                self.words[name].place, f"'{word}' is not known.", nearest(word, known)
            )
        return word

    def _number(
        self, name: str, names: Names, default: int | None = None, needed: bool = True
    ) -> int:
        formula = self.formulas.get(name)
        if formula is not None:
            return _whole(formula, formula.evaluate(names), -(2**31), 2**32 - 1)
        if default is None and needed:
            raise PlanError(f"such a frame needs '{name}'; add a line '{name}: …'.")
        return default or 0

    def _bytes(self, names: Names) -> bytes:
        formula = self.formulas.get("data")
        if formula is None:
            return b""
        value = formula.evaluate(names)
        items = value if isinstance(value, list | tuple) else [value]
        return bytes(_whole(formula, item, 0, 255) for item in items)


def _made_write(recipe: FrameRecipe, names: Names) -> list[int]:
    value, size = recipe.number("value", names), recipe.number("size", names)
    return sdo_write(*recipe.entry(names), value, size)


def _made_answer(recipe: FrameRecipe, names: Names) -> list[int]:
    value, size = recipe.number("value", names), recipe.number("size", names)
    return sdo_answer(*recipe.entry(names), value, size)


def _made_nmt(recipe: FrameRecipe, names: Names) -> list[int]:
    return nmt_data(recipe.word("command", names, COMMANDS), recipe.number("node", names, 0))


_MAKERS: Final[Mapping[str, Callable[[FrameRecipe, Names], Any]]] = {
    "nmt": _made_nmt,
    "sync": lambda _recipe, _names: b"",
    "boot-up": lambda _recipe, _names: b"\0",
    "heartbeat": lambda recipe, names: [STATES[recipe.word("state", names, STATES)]],
    "emergency": lambda recipe, names: emergency_data(
        recipe.number("code", names), recipe.number("bits", names, 0)
    ),
    "sdo-read": lambda recipe, names: sdo_read(*recipe.entry(names)),
    "sdo-write": _made_write,
    "sdo-answer": _made_answer,
    "sdo-written": lambda recipe, names: WriteStarted(Multiplexor(*recipe.entry(names))).to_bytes(),
    "sdo-abort": lambda recipe, names: sdo_abort(
        *recipe.entry(names), recipe.number("code", names)
    ),
}


def _as_bytes(
    maker: Callable[[FrameRecipe, Names], Any],
) -> Callable[[FrameRecipe, Names], bytes]:
    return lambda recipe, names: bytes(maker(recipe, names))


_MADE: Final = {name: _as_bytes(maker) for name, maker in _MAKERS.items()}


def _wrong_identifiers(right: CobId) -> Iterator[tuple[str, int]]:
    other = other_end(right.kind)
    if other is not None:
        yield "other-direction", CobId(other, right.node).value
    if right.node is not None:
        yield "node-forgotten", right.kind.base
        decimal = int(f"{right.kind.base:X}") + right.node
        wrong = int(str(decimal), 16)
        if right.node > 9 and wrong <= 0x7FF and wrong != right.value:
            yield "decimal-for-hex", wrong


def _wrong_data(message: str | None, data: bytes) -> Iterator[tuple[str, bytes]]:
    if message and message.startswith("sdo-"):
        turned = data[:1] + data[2:0:-1] + data[3:4]
        size = 4 - (data[0] >> 2 & 3) if message in ("sdo-write", "sdo-answer") else 4
        yield "byte-order", turned + data[4 : 4 + size][::-1] + data[4 + size :]
        if message in ("sdo-write", "sdo-answer"):
            yield "size-forgotten", bytes([data[0] & ~0x0C]) + data[1:]
            yield "padding-forgotten", data[: 4 + size]
        if message == "sdo-read":
            yield "padding-forgotten", data[:4]
    if message == "emergency":
        yield "byte-order", data[1::-1] + data[2:]
    if data and max(data) <= 99:
        yield "decimal-for-hex", bytes(int(str(byte), 16) for byte in data)


class CanopenFrameReading:
    """See `labkit.doors.frames.FrameReading`."""

    fields = CanopenFrameFields
    facts = FACTS.keys()
    tells = TELLS
    write_tells = WRITE_TELLS

    def recipe(
        self, fields: CanopenFrameFields, reader: FieldReader, *path: str | int
    ) -> FrameRecipe:
        """The recipe of the frame written at `path`. Raises `DefinitionError`."""
        if (fields.identifier is None) == (fields.message is None):
            raise reader.error(
                "needs either 'identifier' (and 'data') or 'message'.",
                f"Messages: {', '.join(MESSAGES)}.",
                *path,
            )
        message = fields.message
        if message is not None and message not in MESSAGES:
            raise reader.error(
                f"'{message}' is not known.", nearest(message, MESSAGES), *path, "message"
            )
        given = {name for name in (*_NUMBERS, *_WORDS) if getattr(fields, name)}
        useful = MESSAGES[message][1] if message else frozenset({"identifier", "data"})
        for name in sorted(given - useful):
            raise reader.error(f"'{name}' has no use in such a frame.", "Take it away.", *path)
        formulas = {
            name: reader.formula(getattr(fields, name), *path, name)
            for name in _NUMBERS
            if name in given
        }
        words = {
            name: reader.prose(getattr(fields, name), *path, name)
            for name in _WORDS
            if name in given
        }
        return FrameRecipe(message, formulas, words, reader, path)

    def fact(self, name: str, frame: Encoded) -> Fact:
        """What a frame says. Raises `PlanError` where it does not say that."""
        return FACTS[name](FrameRead(frame.identifier, frame.data))

    def number(self, label: str, piece: bytes, *, signed: bool) -> Fact:
        """A number whose low byte comes first."""
        return number_fact(label, piece, signed=signed)

    def line(self, frame: Encoded, at: int) -> str:
        """A line of a log of CAN."""
        return LogLine(float(at), "can0", Frame(frame.identifier, frame.data)).to_text()


def _whole(formula: Formula, value: Value, low: int, high: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int | float) or value != int(value):
        raise definition_error(formula.place, f"'{formula.text}' gives no whole number.")
    if not low <= value <= high:
        raise definition_error(
            formula.place, f"'{formula.text}' gives {value:g}, outside {low} to {high}."
        )
    return int(value)
