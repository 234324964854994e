"""Reading the kind `frame`: which frames, and what of them the trainee reads or writes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any, Final

from pydantic import Field, create_model, model_validator

from labkit.doors.frames import Encoded, Fact, FamilyFrames, FrameReading, FrameRecipe
from labkit.doors.installed import frame_reading_for, frames_for
from labkit.doors.prepared import Prepared, Preparer
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common.cell_data import BytesCell, Exact, ExactCell, ExactKey
from labkit.kinds.common.cells import MOST_BYTES
from labkit.kinds.common.number_data import Slip
from labkit.kinds.common.of_family import say_family
from labkit.kinds.frame.check import DATA, IDENTIFIER
from labkit.kinds.frame.data import FrameAsk, FrameKey, ShownFrame, Task
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Strict, Text, check_fields
from labkit.language.expression import Prose, Value
from labkit.language.problems import nearest
from labkit.language.stream import Stream

_TASKS: Final[tuple[Task, ...]] = ("read", "write")
_MOST_FRAMES: Final = 8


class NumberFields(Strict):
    """A number in the data: from byte `first` (the first is 0), `bytes` long."""

    label: Text
    first: Annotated[int, Field(ge=0)] = 0
    bytes: Annotated[int, Field(ge=1, le=8)] = 1
    signed: bool = False
    fact: str | None = None

    @model_validator(mode="before")
    @classmethod
    def _plain_text_is_a_fact(cls, data: Any) -> Any:
        return {"label": data, "fact": data} if isinstance(data, str) else data


class FrameExerciseFields(ExerciseFields):
    """`frames` are read (`task: read`) or written; `fields` names what is asked of each.

    What describes a frame is the family's, and held against its model in `read`.
    """

    task: str = Field(
        default="read",
        description="read: the trainee takes frames apart. write: identifier and data bytes are "
        "written.",
    )
    frames: list[Any] = Field(
        description="One behind each '- ': what it means, such as {purpose: poll-response, "
        "address: node, data: [17]}."
    )
    fields: Any = Field(
        default=None,
        description="What is asked of each frame that has no fields of its own: [purpose, source]",
    )
    tells: dict[str, Text] = Field(
        default_factory=dict,
        description="Words of yours for known mistakes, a line each: byte-order: Low byte first.",
    )


@dataclass(frozen=True, slots=True)
class _Family:
    """What the kind needs of a family, and the fields of an exercise with its frames."""

    frames: FamilyFrames
    reading: FrameReading
    fields: type[FrameExerciseFields]


@lru_cache(maxsize=4)
def _family(name: str) -> _Family:
    frames, reading = frames_for(name), frame_reading_for(name)
    first = Annotated[int, Field(ge=0, le=frames.most_bytes - 1)]
    number = create_model("NumberFields", __base__=NumberFields, first=(first, 0))
    asked: Any = (list[number] | None, None)  # type: ignore[valid-type]
    one = create_model("OneFrameFields", __base__=reading.fields, fields=asked)
    several = Annotated[list[one], Field(min_length=1, max_length=_MOST_FRAMES)]  # type: ignore[valid-type]
    whole = create_model(
        "FrameExerciseFields", __base__=FrameExerciseFields, frames=(several, ...), fields=asked
    )
    return _Family(frames, reading, whole)


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
        family = reader.of_family(_family)
        fields = check_fields(family.fields, reader.fields, reader.label)
        task = _task(fields, reader)
        recipes = [
            family.reading.recipe(frame, reader, "frames", index)
            for index, frame in enumerate(fields.frames)
        ]
        known_facts = _known_facts(family, task)
        asked = [_asked(fields, known_facts, reader, index) for index in range(len(fields.frames))]
        known = family.reading.tells if task == "read" else family.reading.write_tells
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
            maker = _Maker(family, task, words, reader, values)
            for recipe, one in zip(recipes, asked, strict=True):
                maker.add(recipe, one)
            ask: FrameAsk = {"task": task, "frames": maker.shown}
            say_family(ask, reader.family)
            key: FrameKey = {"cells": maker.cells, "frames": maker.frames}
            return Prepared(ask, key)

        return prepare


def _task(fields: FrameExerciseFields, reader: FieldReader) -> Task:
    for task in _TASKS:
        if task == fields.task:
            return task
    raise reader.error(f"'{fields.task}' is not known.", nearest(fields.task, _TASKS), "task")


def _known_facts(family: _Family, task: Task) -> list[str]:
    if task == "read":
        return list(family.reading.facts)
    return [IDENTIFIER, DATA] if family.frames.identifier_bits else [DATA]


def _asked(
    fields: FrameExerciseFields, known: Sequence[str], reader: FieldReader, index: int
) -> _Asked:
    of_frame: list[NumberFields] | None = fields.frames[index].fields
    own = of_frame is not None
    chosen = of_frame if own else fields.fields
    path: tuple[str | int, ...] = ("frames", index, "fields") if own else ("fields",)
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
        family: _Family,
        task: Task,
        words: Mapping[str, str],
        reader: FieldReader,
        values: Mapping[str, Value],
    ) -> None:
        self._frames, self._reading = family.frames, family.reading
        self._digits = -(-family.frames.identifier_bits // 4)
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
            lines.append(_cell(fact, name, self._frames.most_bytes))
            self.cells[name] = {"value": fact.value, "slips": self._slips(fact)}
        self.shown.append(
            {"fields": lines} if self._task == "write" else self._shown(encoded, number, lines)
        )

    def _shown(self, frame: Encoded, number: int, lines: list[ExactCell]) -> ShownFrame:
        data = [f"{byte:02X}" for byte in frame.data]
        line = self._reading.line(frame, number)
        if not self._digits:
            return {"data": data, "line": line, "fields": lines}
        identifier = f"{frame.identifier:0{self._digits}X}"
        return {"identifier": identifier, "data": data, "line": line, "fields": lines}

    def _fact(self, encoded: Encoded, asked: _Asked, at: int) -> Fact:
        item = asked.fields[at]
        if item.fact == IDENTIFIER:
            return Fact("Identifier", encoded.identifier, encoded.wrong_identifiers, self._digits)
        if item.fact == DATA:
            slips = tuple((slip, list(data)) for slip, data in encoded.wrong_data)
            return Fact("Data bytes", list(encoded.data), slips)
        try:
            if item.fact is not None:
                return self._reading.fact(item.fact, encoded)
            return self._number(encoded.data, item, asked.labels[at])
        except PlanError as error:
            raise self._reader.error(
                f"cannot be asked here: {error}", "Ask something else.", *asked.path, at
            ) from error

    def _number(self, data: bytes, item: NumberFields, label: Prose) -> Fact:
        piece = data[item.first : item.first + item.bytes]
        if len(piece) < item.bytes:
            raise PlanError(f"the frame has {len(data)} data bytes only.")
        return self._reading.number(label.render(self._values), piece, signed=item.signed)

    def _slips(self, fact: Fact) -> list[Slip[Exact]]:
        return [
            {"id": slip, "value": value, "tell": self._words[slip]}
            for slip, value in fact.slips
            if value != fact.value
        ]


def _cell(fact: Fact, name: str, most_bytes: int) -> ExactCell:
    """The line to write."""
    if fact.words:
        return {"name": name, "label": fact.label, "write": "word", "words": fact.words}
    if fact.digits:
        return {"name": name, "label": fact.label, "write": "hex", "digits": fact.digits}
    if not isinstance(fact.value, list):
        return {"name": name, "label": fact.label, "write": "whole"}
    cell: BytesCell = {"name": name, "label": fact.label, "write": "bytes"}
    if most_bytes != MOST_BYTES:
        cell["most"] = most_bytes
    return cell
