"""Reading the kind `test_plan`: outputs, what the machine asks, how many steps there are."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Final, Literal

from pydantic import Field

from labkit.doors.prepared import Prepared, Preparer
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common.read_apart import check_apart, check_ids
from labkit.kinds.test_plan.data import Point, TestPlanAsk, TestPlanKey
from labkit.kinds.test_plan.judging import each_as_alone_as_allowed
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Id, Strict, Text
from labkit.language.expression import Value
from labkit.language.problems import definition_error, nearest
from labkit.language.stream import Stream

_LETTERS: Final = "abcdefgh"
MOST_POINTS: Final = len(_LETTERS)


class PointFields(Strict):
    """An output, and what the machine asks of whoever commands it."""

    id: Id = Field(description="Small letters, digits and '-'; the trainee does not see it.")
    text: Text = Field(description="What it moves, as in 'the crate lift'; without 'the'.")
    only_with: Id | None = Field(
        default=None, description="It may be on only while this other one is on."
    )
    after: Id | None = Field(
        default=None, description="It may be on only once this other one was on in an earlier step."
    )


class TestPlanFields(ExerciseFields):
    """The outputs or inputs of the test, and how many steps it may have at most."""

    points: list[PointFields] = Field(
        min_length=3,
        max_length=MOST_POINTS,
        description="Three to eight; the trainee gets them in a drawn order.",
    )
    apart: list[Annotated[list[Id], Field(min_length=2, max_length=2)]] = Field(
        default_factory=list, max_length=8, description="Pairs that may never be on together."
    )
    of: Literal["outputs", "inputs"] = Field(
        default="outputs",
        description="'outputs' that are commanded on, or 'inputs' made by hand at the machine.",
    )
    steps: Annotated[int, Field(ge=2, le=12)] = Field(default=8, description="At most so many.")


class TestPlanReader:
    """Reads a `test_plan` exercise."""

    fields = TestPlanFields

    def read(self, fields: TestPlanFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        known, sort = [point.id for point in fields.points], fields.of.removesuffix("s")
        check_ids(known, sort, reader, "points")
        for at, point in enumerate(fields.points):
            for field in ("only_with", "after"):
                _must_be_another(getattr(point, field), point.id, known, reader, (at, field, sort))
        for at, pair in enumerate(fields.apart):
            for name in pair:
                if name not in known:
                    message = f"'{name}' is no {sort} of this test."
                    raise reader.error(message, nearest(name, known), "apart", at)
        texts = [reader.prose(p.text, "points", at, "text") for at, p in enumerate(fields.points)]
        place = reader.place("points")

        def prepare(values: Mapping[str, Value], stream: Stream) -> Prepared:
            order = stream.order(len(texts))
            letters = {fields.points[n].id: _LETTERS[at] for at, n in enumerate(order)}
            points: list[Point] = [
                {
                    "id": letters[fields.points[n].id],
                    "text": " ".join(texts[n].render(values).split()),
                    "only_with": letters.get(fields.points[n].only_with or "", ""),
                    "after": letters.get(fields.points[n].after or "", ""),
                }
                for n in order
            ]
            check_apart([point["text"] for point in points], "points", reader, "points")
            ask: TestPlanAsk = {
                "points": points,
                "apart": [(letters[a], letters[b]) for a, b in fields.apart],
                "steps": fields.steps,
            }
            if fields.of == "inputs":
                ask["of"] = "inputs"
            try:
                key: TestPlanKey = {"example": each_as_alone_as_allowed(ask)}
            except PlanError as error:
                raise definition_error(place, str(error), "Ask less of one of them.") from error
            if len(key["example"]) > fields.steps:
                message = f"{len(points)} {fields.of} need more than {fields.steps} steps."
                raise reader.error(message, f"Write 'steps: {len(points)}'.", "steps")
            return Prepared(ask, key)

        return prepare


def _must_be_another(
    name: str | None, own: str, known: list[str], reader: FieldReader, place: tuple[int, str, str]
) -> None:
    at, field, sort = place
    if name is None or (name in known and name != own):
        return
    others = [each for each in known if each != own]
    message = f"'{name}' is no other {sort} of this test."
    raise reader.error(message, nearest(name, others), "points", at, field)
