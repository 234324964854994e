"""The fields of each kind as a form asks for them, found from its own model."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any

import pytest
from pydantic import BaseModel, Field

from labkit.doors.installed import kinds, what_is_done
from labkit.lab.editing import shape
from labkit.lab.editing.shape import FieldShape, shape_of
from labkit.lab.library import instructors_notebooks
from labkit.lab.reading.fields import ExerciseFields


def every(fields: Sequence[FieldShape]) -> Iterator[FieldShape]:
    for field in fields:
        yield field
        yield from every(field.fields)


@pytest.mark.parametrize("kind", sorted(kinds()))
def test_each_field_of_each_kind_says_what_goes_into_it(kind: str) -> None:
    fields = shape_of(kind)
    assert [field.name for field in every(fields) if not field.tells] == []
    names = [field.name for field in fields]
    assert names[:2] == ["title", "question"]
    assert names[-5:] == ["marks", "hints", "working", "topic", "accepted"]
    own = [field.needed for field in fields[2:-5]]
    assert own == sorted(own, reverse=True)


def test_places_of_a_picture_are_seen_though_a_network_needs_none() -> None:
    [places] = [field for field in shape_of("spot") if field.name == "places"]
    assert (places.needed, places.at_hand) == (False, True)
    assert [field.name for field in shape_of("quantity") if field.at_hand] == []


def test_each_kind_says_what_a_trainee_does_as_the_guide_does() -> None:
    guide = (instructors_notebooks() / "authoring.md").read_text("utf-8")
    rows = re.findall(r"^\| `(\w+)` \| .* \| ([^|]*) \|$", guide, re.MULTILINE)
    assert {kind: does for kind, does in rows if kind in kinds()} == {
        kind: what_is_done(kind) for kind in kinds()
    }


class OneOf(BaseModel):
    """A group that a plain text may stand for."""

    text: str

    @classmethod
    def model_validate(cls, data: Any, **more: Any) -> Any:  # type: ignore[override]
        """Any text is one."""
        return super().model_validate({"text": data} if isinstance(data, str) else data, **more)


class Ring(BaseModel):
    """A group within itself."""

    name: str
    inner: list[Ring] = []


class Foreign(ExerciseFields):
    """What a kind of another package may ask for."""

    whole: int
    share: float | None = None
    switch: bool = True
    said: str = Field(default="so", description="A word.")
    words: list[str] = Field(min_length=2)
    ring: Ring
    either: int | str = 1
    texts_or_groups: list[OneOf] = Field(default_factory=list)


class ForeignReader:
    """Its reader."""

    fields = Foreign


def test_a_kind_of_another_package_has_its_form_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shape, "reader_for", lambda _: ForeignReader())
    fields = {field.name: field for field in shape_of("foreign of a test")}
    assert {name: (field.form, field.needed) for name, field in fields.items()} == {
        "title": ("text", True),
        "question": ("text", True),
        "whole": ("number", True),
        "words": ("texts", True),
        "ring": ("group", True),
        "share": ("number", False),
        "switch": ("yes or no", False),
        "said": ("text", False),
        "either": ("as written", False),
        "texts_or_groups": ("as written", False),
        "marks": ("number", True),
        "hints": ("rows", False),
        "working": ("text", True),
        "topic": ("text", False),
        "accepted": ("rows", False),
    }
    assert (fields["switch"].usual, fields["said"].usual, fields["said"].tells) == (
        "yes",
        "so",
        "A word.",
    )
    assert fields["words"].least == 2
    assert len([*every(fields["ring"].fields)]) < 20
