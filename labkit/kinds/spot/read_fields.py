"""The fields of the kind `spot`."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from labkit.lab.reading.fields import AT_HAND, ExerciseFields, Id, Number, Strict, Text

Edges = Annotated[list[Number], Field(min_length=4, max_length=4)]


class PlaceFields(Strict):
    """A place: left, top, right and bottom in per cent, and what to tell who takes it wrongly."""

    id: Id = Field(description="Small letters, digits and '-'.")
    name: Text = Field(description="What it is called.")
    box: Edges | None = Field(
        default=None, description="[left, top, right, bottom], each in per cent of the picture."
    )
    oval: Edges | None = Field(default=None, description="The same for an oval, in place of a box.")
    tell: Text | None = Field(
        default=None, description="What is told to who points there where another is asked for."
    )


class PartSlipFields(Strict):
    """A known mistake in a network: the part that it leads to, or a list, and what to tell."""

    id: Id = Field(description="Small letters, digits and '-'.")
    answer: Text = Field(
        description="A formula that gives the part that is pointed at wrongly, or a list; [] where "
        "a draw has none."
    )
    tell: Text = Field(description="What is told to who points there: say what they did.")


class SpotFields(ExerciseFields):
    """`answer` gives the id of the right place, or a list of ids; `named` offers the names too.

    Where `picture` is the network, its parts are the places.
    """

    picture: Text = Field(
        description="One picture that lies beside lab.md: ![what it shows](photo.png). Or the word "
        "network, for the drawing of the lab's network."
    )
    places: list[PlaceFields] = Field(
        default_factory=list,
        min_length=2,
        max_length=40,
        description="Of a picture: right and wrong ones, two or more. Of the network: none.",
        json_schema_extra=AT_HAND,
    )
    answer: Text = Field(
        description='A formula that gives the id of the right place, or a list of ids: "coil", '
        'with the quotation marks. In the network a part: "tap 3", "left terminator".'
    )
    points: str | None = Field(
        default=None,
        description="How many points may be set. As many as are right if you say nothing.",
    )
    named: bool = Field(
        default=False,
        description="The names can be chosen beside the picture, for who cannot see it.",
    )
    parts: list[Text] = Field(
        default_factory=list,
        description="Of the network: what can be pointed at, such as [device, tap]. Everything if "
        "you say nothing.",
    )
    slips: list[PartSlipFields] = Field(
        default_factory=list, max_length=20, description="Of the network: known mistakes."
    )
