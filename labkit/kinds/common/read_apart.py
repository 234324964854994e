"""Reading texts of which a trainee chooses: each must be told from the others in every draw."""

from __future__ import annotations

from collections.abc import Sequence

from labkit.lab.reading.field_reader import FieldReader


def check_apart(texts: Sequence[str], what: str, reader: FieldReader, field: str) -> None:
    """Raise `DefinitionError` when two texts of the list `field` read alike in this draw."""
    twice = next((text for text in texts if texts.count(text) > 1), None)
    if twice is not None:
        raise reader.error(
            f"two {what} read alike: '{twice}'.",
            "Write each so that it can be told apart, or rule such draws out under 'valid:'.",
            field,
        )
