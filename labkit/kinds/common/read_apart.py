"""Reading what must be told apart: ids, and texts of which a trainee chooses."""

from __future__ import annotations

from collections.abc import Sequence

from labkit.lab.reading.field_reader import FieldReader


def check_ids(ids: Sequence[str], what: str, reader: FieldReader, *path: str | int) -> None:
    """Raise `DefinitionError` when an id of the list at `path` is there twice."""
    for index, name in enumerate(ids):
        if name in ids[:index]:
            raise reader.error(
                f"the {what} '{name}' is there twice.",
                "Give each its own id.",
                *(*path, index, "id"),
            )


def check_apart(texts: Sequence[str], what: str, reader: FieldReader, field: str) -> None:
    """Raise `DefinitionError` when two texts of the list `field` read alike in this draw."""
    twice = next((text for text in texts if texts.count(text) > 1), None)
    if twice is not None:
        raise reader.error(
            f"two {what} read alike: '{twice}'.",
            "Write each so that it can be told apart, or rule such draws out under 'valid:'.",
            field,
        )
