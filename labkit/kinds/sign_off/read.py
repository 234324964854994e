"""Reading the kind `sign_off`: items that the instructor must see on the real bench."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import Field

from labkit.doors.prepared import Prepared, Preparer
from labkit.kinds.common.read_apart import check_ids
from labkit.kinds.common.read_rubric import rubric_key, shares
from labkit.kinds.sign_off.data import Item, SignOffAsk
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Id, Marks, Strict, Text
from labkit.language.expression import Value
from labkit.language.stream import Stream


class ItemFields(Strict):
    """What the trainee gets ready, what the instructor will look for, and what it is worth."""

    id: Id = Field(description="Small letters, digits and '-'.")
    text: Text = Field(description="What the trainee gets ready.")
    look_for: Text = Field(description="What you will look for; the trainee reads it.")
    marks: Marks | None = Field(
        default=None, description="What it is worth: say it of all items, or of none."
    )


class SignOffFields(ExerciseFields):
    """`marks` of the items: for all of them, or for none (then all are worth the same)."""

    items: list[ItemFields] = Field(min_length=1, max_length=20, description="What you must see.")
    caution: Text | None = Field(
        default=None,
        description="A caution that always stands there. Give one where the work can hurt "
        "somebody.",
    )


class SignOffReader:
    """Reads a `sign_off` exercise."""

    fields = SignOffFields

    def read(self, fields: SignOffFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        ids = [item.id for item in fields.items]
        check_ids(ids, "item", reader, "items")
        parts = _shares(fields, reader)
        texts = [
            reader.prose(item.text, "items", index, "text")
            for index, item in enumerate(fields.items)
        ]
        looks = [
            reader.prose(item.look_for, "items", index, "look_for")
            for index, item in enumerate(fields.items)
        ]
        caution = reader.prose(fields.caution, "caution") if fields.caution else None

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            items: list[Item] = [
                {"id": name, "text": text.render(values), "look_for": look.render(values)}
                for name, text, look in zip(ids, texts, looks, strict=True)
            ]
            ask: SignOffAsk = {
                "items": items,
                "caution": caution.render(values) if caution else "",
            }
            criteria = [f"{item['text']} Look for: {item['look_for']}" for item in items]
            return Prepared(ask, rubric_key(ids, criteria, parts, ""))

        return prepare


def _shares(fields: SignOffFields, reader: FieldReader) -> list[float]:
    given = [item.marks for item in fields.items]
    if all(marks is None for marks in given):
        return [1 / len(given)] * len(given)
    for index, marks in enumerate(given):
        if marks is None:
            raise reader.error(
                "this item has no marks, others have.",
                "Give every item its marks, or none.",
                *("items", index, "marks"),
            )
    return shares([marks for marks in given if marks is not None], fields, reader, "items")
