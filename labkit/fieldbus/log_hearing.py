"""A log that a family's ear listens to while it is read, whatever its lines hold."""

from typing import Any, Generic, Protocol, TypeVar

from labkit.fieldbus.text_lines import LineReader

Entry = TypeVar("Entry")
EntryIn = TypeVar("EntryIn", contravariant=True)


class Told(Protocol):
    """What was heard, as an ear keeps it."""

    def to_json(self) -> dict[str, Any]:
        """As plain JSON."""


class Listens(Protocol[EntryIn]):
    """A family's ear."""

    @property
    def heard(self) -> Told:
        """What was heard by now."""

    def hear(self, entry: EntryIn, /) -> None:
        """Take the next entry of the log in."""


class Hearing(Generic[Entry]):
    """Reads a log for an ear."""

    def __init__(self, reader: LineReader[Entry], ear: Listens[Entry]) -> None:
        self._reader, self._ear = reader, ear

    def feed(self, piece: bytes) -> None:
        """The next piece of a log. Raises `PlanError`."""
        for entry in self._reader.feed(piece):
            self._ear.hear(entry)

    def end(self) -> None:
        """That was all. Raises `PlanError` where nothing of it is a log."""
        for entry in self._reader.end():
            self._ear.hear(entry)

    @property
    def remarks(self) -> list[str]:
        """Lines that could not be read, and what else is to be known of the reading."""
        return self._reader.remarks

    @property
    def so_far(self) -> dict[str, Any]:
        """What was heard by now."""
        return self._ear.heard.to_json()
