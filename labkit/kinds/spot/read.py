"""Reading the kind `spot`: places of a picture, and which of them are right."""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Mapping
from typing import Final

from PIL import Image

from labkit.doors.prepared import Prepared, Preparer
from labkit.kinds.common.read_id import read_id_formula
from labkit.kinds.spot.data import Place, SpotAsk
from labkit.kinds.spot.places import WHOLE, area, point_in
from labkit.kinds.spot.read_fields import PlaceFields, SpotFields
from labkit.kinds.spot.read_network import NETWORK, in_network
from labkit.kinds.spot.read_right import points_that_can_be_set, right_ones
from labkit.lab.reading.field_reader import FieldReader
from labkit.language.expression import Value
from labkit.language.problems import definition_error
from labkit.language.stream import Stream

LEAST_SIDE: Final = 30
"""Of a place, in thousandths: a finger on a small screen, and a step of the keyboard, find it."""
LARGEST_PART: Final = 0.25
"""Of the picture: who points blindly finds what is larger too often."""
_PICTURE: Final = re.compile(r"!\[(.*)\]\((\S+)\)", re.DOTALL)
_UNSHOWN: Final = [4, 3]


class SpotReader:
    """Reads a `spot` exercise."""

    fields = SpotFields

    def read(self, fields: SpotFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        if fields.picture.strip() == NETWORK:
            return in_network(fields, reader)
        words, picture, size = _picture(fields, reader)
        _refuse_of_network(fields, reader)
        bare = _places(fields, reader)
        ids = [place["id"] for place in bare]
        answer = read_id_formula(fields.answer, ids, reader, "answer")
        points = reader.formula(fields.points, "points") if fields.points is not None else None
        names = [reader.prose(p.name, "places", n, "name") for n, p in enumerate(fields.places)]
        tells = {
            place.id: reader.prose(place.tell, "places", n, "tell")
            for n, place in enumerate(fields.places)
            if place.tell is not None
        }

        def prepare(values: Mapping[str, Value], stream: Stream) -> Prepared:
            right = right_ones(answer, values, ids, "a place")
            wrong = [id for id in ids if id not in right]
            silent = next((id for id in wrong if id not in tells), None)
            if silent is not None:
                raise reader.error(
                    f"'{silent}' is wrong in some draws, and has nothing to tell.",
                    "Add 'tell:' with what is told to who points there.",
                    *("places", ids.index(silent)),
                )
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
                "points": points_that_can_be_set(points, values, len(right)),
                "names": [named[n] for n in order],
            }

            def tell() -> dict[str, str]:
                return {id: tells[id].render(values) for id in wrong}

            key = {"places": places, "right": right}
            return Prepared(ask, key, late={"tell": tell})

        return prepare


def _refuse_of_network(fields: SpotFields, reader: FieldReader) -> None:
    """Refuse what is said of a network's drawing where the picture is another."""
    for name in ("parts", "slips"):
        if getattr(fields, name):
            raise reader.error(
                "is for the drawing of a network, and the picture is another.",
                "Write 'picture: network', or take it away.",
                name,
            )
    if not fields.places:
        raise reader.error(
            "is missing.",
            "Name the places of the picture, right and wrong ones; or write 'picture: network' to "
            "let parts of the drawn network be pointed at.",
            "places",
        )


def _picture(fields: SpotFields, reader: FieldReader) -> tuple[str, str, list[int]]:
    """What the picture shows, its data and its size in pixels."""
    text = reader.prose(fields.picture, "picture").render({})
    found = _PICTURE.fullmatch(text.strip())
    if not found:
        file = text.strip() if re.fullmatch(r"[\w-]+\.\w+", text.strip()) else "file.png"
        raise reader.error(
            "is not one picture alone.",
            f"Write it as \"![what it shows]({file})\", or 'network' for the drawn network.",
            "picture",
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
