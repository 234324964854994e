"""Reading the kind `spot`: places of a picture, and which of them are right."""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Mapping
from typing import Annotated, Any, Final

from PIL import Image
from pydantic import Field

from labkit.doors.prepared import Prepared, Preparer
from labkit.kinds.spot.data import Place, SpotAsk
from labkit.kinds.spot.places import WHOLE, area, point_in
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Id, Number, Strict, Text
from labkit.language.expression import Formula, Value
from labkit.language.problems import definition_error, nearest
from labkit.language.stream import Stream

MOST_POINTS: Final = 12
LEAST_SIDE: Final = 30
"""Of a place, in thousandths: a finger on a small screen, and a step of the keyboard, find it."""
LARGEST_PART: Final = 0.25
"""Of the picture: who points blindly finds what is larger too often."""
_PICTURE: Final = re.compile(r"!\[(.*)\]\((\S+)\)", re.DOTALL)
_UNSHOWN: Final = [4, 3]

Edges = Annotated[list[Number], Field(min_length=4, max_length=4)]


class PlaceFields(Strict):
    """A place: left, top, right and bottom in per cent, and what to tell who takes it wrongly."""

    id: Id = Field(description="Small letters, digits and '-'.")
    name: Text = Field(description="What it is called.")
    box: Edges | None = Field(
        default=None, description="[left, top, right, bottom], each in per cent of the picture."
    )
    oval: Edges | None = Field(default=None, description="The same for an oval, in place of a box.")
    tell: Text = Field(description="What is told to who points there wrongly.")


class SpotFields(ExerciseFields):
    """`answer` gives the id of the right place, or a list of ids; `named` offers the names too."""

    picture: Text = Field(
        description="One picture that lies beside lab.md: ![what it shows](photo.png)"
    )
    places: list[PlaceFields] = Field(
        min_length=2, max_length=40, description="Right and wrong ones."
    )
    answer: Text = Field(
        description='A formula that gives the id of the right place, or a list of ids: "coil", '
        "with the quotation marks."
    )
    points: str | None = Field(
        default=None,
        description="How many points may be set. As many as are right if you say nothing.",
    )
    named: bool = Field(
        default=False,
        description="The names can be chosen beside the picture, for who cannot see it.",
    )


class SpotReader:
    """Reads a `spot` exercise."""

    fields = SpotFields

    def read(self, fields: SpotFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        words, picture, size = _picture(fields, reader)
        bare = _places(fields, reader)
        ids = [place["id"] for place in bare]
        answer = reader.formula(fields.answer, "answer")
        points = reader.formula(fields.points, "points") if fields.points is not None else None
        names = [reader.prose(p.name, "places", n, "name") for n, p in enumerate(fields.places)]
        tells = [reader.prose(p.tell, "places", n, "tell") for n, p in enumerate(fields.places)]

        def prepare(values: Mapping[str, Value], stream: Stream) -> Prepared:
            right = _right(answer, values, ids)
            named = [name.render(values) for name in names]
            if len(set(named)) < len(named):
                at = reader.place("places")
                raise definition_error(at, "two places have the same name.", "Name them apart.")
            places: list[Place] = [
                {**place, "name": name} for place, name in zip(bare, named, strict=True)
            ]
            order = stream.order(len(named)) if fields.named else []
            ask: SpotAsk = {
                "picture": picture,
                "words": words,
                "size": size,
                "points": _points(points, values, len(right)),
                "names": [named[n] for n in order],
            }

            def tell() -> dict[str, str]:
                return {name: text.render(values) for name, text in zip(ids, tells, strict=True)}

            key = {"places": places, "right": right}
            return Prepared(ask, key, late={"tell": tell})

        return prepare


def _picture(fields: SpotFields, reader: FieldReader) -> tuple[str, str, list[int]]:
    """What the picture shows, its data and its size in pixels."""
    text = reader.prose(fields.picture, "picture").render({})
    found = _PICTURE.fullmatch(text.strip())
    if not found:
        raise reader.error(
            "is not one picture alone.", "Write it as '![what it shows](file.png)'.", "picture"
        )
    _, comma, data = found[2].partition(";base64,")
    if not comma:  # proof-reading leaves the data out
        return found[1], found[2], _UNSHOWN
    with Image.open(io.BytesIO(base64.b64decode(data)), formats=("PNG", "JPEG")) as image:
        return found[1], found[2], [image.width, image.height]


def _places(fields: SpotFields, reader: FieldReader) -> list[Place]:
    """The places without their names. Raises `DefinitionError` for one that cannot be used."""
    places: list[Place] = []
    for index, each in enumerate(fields.places):
        at = ("places", index)
        if each.id in [place["id"] for place in places]:
            raise reader.error(
                f"the place '{each.id}' is there twice.", "Give each its own id.", *at, "id"
            )
        places.append(_place(each, reader, *at))
    for index, place in enumerate(places):
        if point_in(places, place) is None:
            raise reader.error(
                f"the place '{place['id']}' lies below others that are smaller: nobody can point "
                "at it.",
                "Move it, or make it larger.",
                *("places", index),
            )
    return places


def _place(each: PlaceFields, reader: FieldReader, *at: str | int) -> Place:
    edges = each.oval if each.oval is not None else each.box
    if edges is None or (each.oval is not None and each.box is not None):
        raise reader.error(
            "needs either 'box' or 'oval'.",
            "Write box: [left, top, right, bottom], each in per cent of the picture.",
            *at,
        )
    form = "oval" if each.oval is not None else "box"
    left, top, right, bottom = thousandths = [round(edge * 10) for edge in edges]
    if not (0 <= left < right <= WHOLE and 0 <= top < bottom <= WHOLE):
        raise reader.error(
            "does not lie in the picture.",
            "Write [left, top, right, bottom] in per cent, 0 to 100: left before right, top before "
            "bottom.",
            *(*at, form),
        )
    if min(right - left, bottom - top) < LEAST_SIDE:
        raise reader.error(
            f"is less than {LEAST_SIDE // 10} % wide or high: too small for a finger.",
            "Make it larger, or cut the picture to what is to be seen.",
            *(*at, form),
        )
    place: Place = {"id": each.id, "name": "", "form": form, "edges": thousandths}  # type: ignore[typeddict-item]
    if area(place) > LARGEST_PART:
        raise reader.error(
            f"covers {area(place):.0%} of the picture: who points blindly finds it too often.",
            f"Draw it around less than {LARGEST_PART:.0%}.",
            *(*at, form),
        )
    return place


def _right(answer: Formula, values: Mapping[str, Value], ids: list[str]) -> list[str]:
    given: Any = answer.evaluate(values)
    right = [str(each) for each in given] if isinstance(given, list | tuple) else [str(given)]
    unknown = next((each for each in right if each not in ids), None)
    if unknown is not None:
        raise definition_error(
            answer.place,
            f"the answer '{unknown}' is not a place: it must give the id of one, or a list of ids.",
            nearest(unknown, ids),
        )
    if not right or len(set(right)) < len(right) or len(right) > MOST_POINTS:
        raise definition_error(
            answer.place,
            f"the answer gives {len(right)} places, some perhaps twice.",
            f"It must give 1 to {MOST_POINTS} different places.",
        )
    return right


def _points(points: Formula | None, values: Mapping[str, Value], right: int) -> int:
    """How many points may be set: as many as are right, unless the author says more."""
    if points is None:
        return right
    count = points.evaluate(values)
    if type(count) is not int or not right <= count <= MOST_POINTS:
        raise definition_error(
            points.place,
            f"'{points.text}' gives {count}, where {right} to {MOST_POINTS} points can be set.",
            "Write how many the trainee may set, at least as many as there are right places.",
        )
    return count
