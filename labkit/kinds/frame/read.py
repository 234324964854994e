"""Reading the kind `frame`: which frames, and what of them the trainee reads or writes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Final

from pydantic import Field, model_validator

from labkit.doors.prepared import Prepared, Preparer
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.logline import LogLine
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common.cell_data import Exact, ExactCell, ExactKey
from labkit.kinds.common.number_data import Slip
from labkit.kinds.frame.check import DATA, IDENTIFIER
from labkit.kinds.frame.data import FrameAsk, FrameKey, ShownFrame, Task
from labkit.kinds.frame.facts import FACTS, TELLS, Fact, FrameRead, number_fact
from labkit.kinds.frame.read_parts import Encoded, FrameFields, FrameRecipe, read_frame
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Strict, Text
from labkit.language.expression import Prose, Value
from labkit.language.problems import nearest
from labkit.language.stream import Stream

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
_CHANNEL: Final = "can0"
_TASKS: Final[tuple[Task, ...]] = ("read", "write")


class NumberFields(Strict):
    """A number in the data: from byte `first` (the first is 0), `bytes` long, low byte first."""

    label: Text
    first: Annotated[int, Field(ge=0, le=7)] = 0
    bytes: Annotated[int, Field(ge=1, le=8)] = 1
    signed: bool = False
    fact: str | None = None

    @model_validator(mode="before")
    @classmethod
    def _plain_text_is_a_fact(cls, data: Any) -> Any:
        return {"label": data, "fact": data} if isinstance(data, str) else data


class OneFrameFields(FrameFields):
    """A frame with what is asked of it."""

    fields: list[NumberFields] | None = None


class FrameExerciseFields(ExerciseFields):
    """`frames` are read (`task: read`) or written; `fields` names what is asked of each."""

    task: str = "read"
    frames: Annotated[list[OneFrameFields], Field(min_length=1, max_length=8)]
    fields: list[NumberFields] | None = None
    tells: dict[str, Text] = Field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is asked of one frame, and where it is written."""

    fields: tuple[NumberFields, ...]
    labels: tuple[Prose, ...]
    path: tuple[str | int, ...]


class FrameReader:
    """Reads a `frame` exercise."""

    fields = FrameExerciseFields

    def read(self, fields: FrameExerciseFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        task = _task(fields, reader)
        recipes = [
            read_frame(frame, reader, "frames", index) for index, frame in enumerate(fields.frames)
        ]
        asked = [_asked(fields, frame, reader, index) for index, frame in enumerate(fields.frames)]
        known = TELLS if task == "read" else WRITE_TELLS
        for slip in fields.tells:
            if slip not in known:
                raise reader.error(
                    "is no mistake that is looked for here.", nearest(slip, known), "tells", slip
                )
        tells = {slip: reader.prose(text, "tells", slip) for slip, text in fields.tells.items()}

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            words = dict(known)
            for slip, prose in tells.items():
                words[slip] = f"{words[slip]} {prose.render(values)}"
            maker = _Maker(task, words, reader, values)
            for recipe, one in zip(recipes, asked, strict=True):
                maker.add(recipe, one)
            ask: FrameAsk = {"task": task, "frames": maker.shown}
            key: FrameKey = {"cells": maker.cells, "frames": maker.frames}
            return Prepared(ask, key)

        return prepare


def _task(fields: FrameExerciseFields, reader: FieldReader) -> Task:
    for task in _TASKS:
        if task == fields.task:
            return task
    raise reader.error(f"'{fields.task}' is not known.", nearest(fields.task, _TASKS), "task")


def _asked(
    fields: FrameExerciseFields, frame: OneFrameFields, reader: FieldReader, index: int
) -> _Asked:
    own = frame.fields is not None
    chosen = frame.fields if own else fields.fields
    path: tuple[str | int, ...] = ("frames", index, "fields") if own else ("fields",)
    known = FACTS if fields.task == "read" else {IDENTIFIER: None, DATA: None}
    if chosen is None and fields.task == "write":
        chosen = [NumberFields(label=name, fact=name) for name in known]
    if not chosen:
        raise reader.error(
            "does not say what is asked.", f"Add 'fields: [{', '.join(known)}]'.", *path
        )
    for at, item in enumerate(chosen):
        if item.fact is None and fields.task == "write":
            raise reader.error("cannot be written on its own.", "", *path, at)
        if item.fact is not None and item.fact not in known:
            raise reader.error(f"'{item.fact}' is not known.", nearest(item.fact, known), *path, at)
        if item.fact in [other.fact for other in chosen[:at] if other.fact]:
            raise reader.error(f"'{item.fact}' is asked twice.", "Keep one.", *path, at)
    labels = tuple(reader.prose(item.label, *path, at) for at, item in enumerate(chosen))
    return _Asked(tuple(chosen), labels, path)


class _Maker:
    """Puts ask and key of the frames together."""

    def __init__(
        self,
        task: Task,
        words: Mapping[str, str],
        reader: FieldReader,
        values: Mapping[str, Value],
    ) -> None:
        self._task, self._words, self._reader, self._values = task, words, reader, values
        self.shown: list[ShownFrame] = []
        self.cells: dict[str, ExactKey] = {}
        self.frames: list[list[Any]] = []

    def add(self, recipe: FrameRecipe, asked: _Asked) -> None:
        """Add one frame. Raises `DefinitionError` where it does not say what is asked."""
        encoded = recipe.encode(self._values)
        number = len(self.frames) + 1
        self.frames.append([encoded.identifier, list(encoded.data)])
        lines: list[ExactCell] = []
        for at, item in enumerate(asked.fields):
            fact = self._fact(encoded, asked, at)
            name = f"{number}.{item.fact or at + 1}"
            lines.append(fact.cell(name))
            self.cells[name] = {"value": fact.value, "slips": self._slips(fact)}
        self.shown.append(
            {"fields": lines} if self._task == "write" else _shown(encoded, number, lines)
        )

    def _fact(self, encoded: Encoded, asked: _Asked, at: int) -> Fact:
        item = asked.fields[at]
        if item.fact == IDENTIFIER:
            return Fact("Identifier", encoded.identifier, encoded.wrong_identifiers, digits=3)
        if item.fact == DATA:
            slips = tuple((slip, list(data)) for slip, data in encoded.wrong_data)
            return Fact("Data bytes", list(encoded.data), slips)
        try:
            frame = FrameRead(encoded.identifier, encoded.data)
            if item.fact is not None:
                return FACTS[item.fact](frame)
            return self._number(encoded.data, item, asked.labels[at])
        except PlanError as error:
            raise self._reader.error(
                f"cannot be asked here: {error}", "Ask something else.", *asked.path, at
            ) from error

    def _number(self, data: bytes, item: NumberFields, label: Prose) -> Fact:
        piece = data[item.first : item.first + item.bytes]
        if len(piece) < item.bytes:
            raise PlanError(f"the frame has {len(data)} data bytes only.")
        return number_fact(label.render(self._values), piece, signed=item.signed)

    def _slips(self, fact: Fact) -> list[Slip[Exact]]:
        return [
            {"id": slip, "value": value, "tell": self._words[slip]}
            for slip, value in fact.slips
            if value != fact.value
        ]


def _shown(encoded: Encoded, number: int, lines: list[ExactCell]) -> ShownFrame:
    frame = Frame(encoded.identifier, encoded.data)
    return {
        "identifier": frame.identifier_text,
        "data": [f"{byte:02X}" for byte in encoded.data],
        "line": LogLine(float(number), _CHANNEL, frame).to_text(),
        "fields": lines,
    }
