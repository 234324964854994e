"""Reading the kind `several`: boxes, which of them are right, what to tell of each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from pydantic import Field

from labkit.doors.prepared import Prepared, Preparer
from labkit.kinds.common.read_apart import check_apart, check_ids
from labkit.kinds.several.data import Box, SeveralAsk
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Id, Strict, Text
from labkit.language.expression import Formula, Prose, Value
from labkit.language.problems import definition_error
from labkit.language.stream import Stream

FEWEST: Final = 3
"""Boxes of an exercise: of two, every third answer is right."""
_LETTERS: Final = "abcdefghijkl"
_YES_OR_NO: Final = {"yes": True, "true": True, "no": False, "false": False}
_MISSED: Final = "missed-"


class BoxFields(Strict):
    """A box; `right` is yes, no or a formula; `tell` where it is ticked wrongly, `missed` where
    it is right and left out.
    """

    id: Id = Field(description="Small letters, digits and '-'; the trainee does not see it.")
    text: Text = Field(description="What the trainee reads; formulas stand in {{ }}.")
    right: Text = Field(
        description="yes, no, or a formula that gives one of them, such as current > 2."
    )
    tell: Text | None = Field(
        default=None, description="What is told to who ticks it while it is wrong."
    )
    missed: Text | None = Field(
        default=None, description="What is told to who leaves it out while it is right."
    )


class SeveralFields(ExerciseFields):
    """The boxes are shown in a drawn order; with `none` the trainee may say that none is right."""

    boxes: list[BoxFields] = Field(
        min_length=FEWEST,
        max_length=len(_LETTERS),
        description="Three to twelve; the trainee gets them in a drawn order.",
    )
    none: bool = Field(default=False, description="A last box 'None of them' is there too.")


@dataclass(frozen=True, slots=True)
class _Box:
    name: str
    text: Prose
    right: bool | Formula
    tell: Prose | None
    missed: Prose | None

    def is_right(self, values: Mapping[str, Value]) -> bool:
        if isinstance(self.right, bool):
            return self.right
        found = self.right.evaluate(values)
        if not isinstance(found, bool):
            raise definition_error(
                self.right.place,
                f"'{self.right.text}' gives '{found}', which is neither yes nor no.",
                "Write yes, no or a comparison, such as 'rate == 125'.",
            )
        return found


class SeveralReader:
    """Reads a `several` exercise."""

    fields = SeveralFields

    def read(self, fields: SeveralFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        check_ids([box.id for box in fields.boxes], "box", reader, "boxes")
        boxes = [_read_box(box, reader, at) for at, box in enumerate(fields.boxes)]

        def prepare(values: Mapping[str, Value], stream: Stream) -> Prepared:
            order = [boxes[n] for n in stream.order(len(boxes))]
            # The boxes' own ids could give the answer away ("wrong-one").
            letters = dict(zip(_LETTERS, order, strict=False))
            shown: list[Box] = [
                {"id": letter, "text": box.text.render_line(values)}
                for letter, box in letters.items()
            ]
            right = [letter for letter, box in letters.items() if box.is_right(values)]
            _check_draw(shown, right, reader, none=fields.none)

            def tell() -> dict[str, str]:
                told = {
                    letter: box.missed if letter in right else box.tell
                    for letter, box in letters.items()
                }
                return {letter: text.render(values) for letter, text in told.items() if text}

            ask: SeveralAsk = {"boxes": shown, "none": fields.none}
            names = {letter: box.name for letter, box in letters.items()}
            return Prepared(ask, {"right": right, "names": names}, late={"tell": tell})

        return prepare


def _read_box(box: BoxFields, reader: FieldReader, at: int) -> _Box:
    if box.id.startswith(_MISSED):
        raise reader.error(
            f"'{box.id}' is what the mistake of leaving a box out is called.",
            f"Let the id begin otherwise than with '{_MISSED}'.",
            *("boxes", at, "id"),
        )
    stated = _YES_OR_NO.get(box.right.strip().lower())
    _check_told(box, stated, reader, at)
    return _Box(
        box.id,
        reader.prose(box.text, "boxes", at, "text"),
        reader.formula(box.right, "boxes", at, "right") if stated is None else stated,
        reader.prose(box.tell, "boxes", at, "tell") if box.tell else None,
        reader.prose(box.missed, "boxes", at, "missed") if box.missed else None,
    )


def _check_told(box: BoxFields, stated: bool | None, reader: FieldReader, at: int) -> None:
    """A sentence that nobody would ever be told."""
    if stated is True and box.tell:
        raise reader.error(
            f"'{box.id}' is right for everybody, so nobody ticks it wrongly.",
            "Name the sentence 'missed:', which is told to those who leave it out.",
            *("boxes", at, "tell"),
        )
    if stated is False and box.missed:
        raise reader.error(
            f"'{box.id}' is wrong for everybody, so nobody misses it.",
            "Name the sentence 'tell:', which is told to those who tick it.",
            *("boxes", at, "missed"),
        )


def _check_draw(shown: list[Box], right: list[str], reader: FieldReader, *, none: bool) -> None:
    check_apart([box["text"] for box in shown], "boxes", reader, "boxes")
    if not right and not none:
        raise reader.error(
            "no box is right.",
            "Let one be right, or say 'none: yes', so that trainees can answer that none is.",
            "boxes",
        )
    if len(right) == len(shown):
        raise reader.error(
            "every box is right, so whoever ticks all has it.",
            "Add one that is wrong, or rule such draws out under 'valid:'.",
            "boxes",
        )
