"""Reading the kind `written`: a short text, marked by the instructor against a rubric."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Final

from pydantic import Field

from labkit.doors.prepared import Prepared, Preparer
from labkit.kinds.common.read_apart import check_ids
from labkit.kinds.common.read_rubric import CriterionFields, rubric_key, shares
from labkit.kinds.written.check import MAX_CHARACTERS, count_words
from labkit.kinds.written.data import WrittenAsk
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Text
from labkit.language.expression import Value
from labkit.language.problems import definition_error
from labkit.language.stream import Stream

MAX_WORDS: Final = 1_000

Words = Annotated[int, Field(ge=1, le=MAX_WORDS)]


class WrittenFields(ExerciseFields):
    """`rubric` and `model` are for the instructor; `least` and `most` count words."""

    rubric: list[CriterionFields] = Field(
        min_length=1, max_length=20, description="What you look for, and what it is worth."
    )
    model: Text = Field(description="Your own answer; formulas stand in {{ }}.")
    least: Words = Field(default=10, description="Words.")
    most: Words = Field(default=120, description="Words.")


class WrittenReader:
    """Reads a `written` exercise."""

    fields = WrittenFields

    def read(self, fields: WrittenFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        if fields.least > fields.most:
            raise reader.error(
                f"{fields.least} is more than 'most' ({fields.most}).", "Exchange them.", "least"
            )
        ids = [criterion.id for criterion in fields.rubric]
        check_ids(ids, "criterion", reader, "rubric")
        parts = shares([one.marks for one in fields.rubric], fields, reader, "rubric")
        texts = [
            reader.prose(criterion.text, "rubric", index, "text")
            for index, criterion in enumerate(fields.rubric)
        ]
        model = reader.prose(fields.model, "model")

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            answer = model.render(values)
            words = count_words(answer)
            if not fields.least <= words <= fields.most or len(answer) > MAX_CHARACTERS:
                raise definition_error(
                    model.place,
                    f"the model answer has {words} words, but the trainee may write "
                    f"{fields.least} to {fields.most}.",
                    "Shorten or lengthen it, or change 'least' and 'most'.",
                )
            ask: WrittenAsk = {"least": fields.least, "most": fields.most}
            criteria = [text.render(values) for text in texts]
            return Prepared(ask, rubric_key(ids, criteria, parts, answer))

        return prepare
