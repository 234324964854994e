"""The lines of a log that comes in pieces, of which nobody knows yet whether it is text at all.

Nothing is kept but the line that is not complete yet. What is no plain text is refused in a
sentence; a line that is too long to be one of a log is cut, and nobody will be able to read it.
"""

from abc import ABC, abstractmethod
from typing import ClassVar, Final, Generic, TypeVar

from labkit.fieldbus.agreement import counted
from labkit.fieldbus.errors import PlanError

Entry = TypeVar("Entry")

MOST_BYTES: Final = 16_000_000
"""Of one log; minutes of a busy bus at 500 kbit/s (our choice)."""
LONGEST_LINE: Final = 2_000
"""Bytes; lines of a log have some fifty (our choice)."""
SHOWN: Final = 60
PATIENCE: Final = 200
"""Lines after which a file without a single entry is taken for none of this form (our choice)."""
_OTHER_FORMS: Final = (
    ((b"\xff\xfe", b"\xfe\xff"), "text of two bytes a character (UTF-16)"),
    ((b"PK",), "a ZIP archive"),
    ((b"\x1f\x8b",), "a packed file"),
    ((b"SQLite format",), "a database"),
)
"""What files begin with that are taken for a log now and then."""
_BYTE_ORDER_MARK: Final = b"\xef\xbb\xbf"


class TextLines:
    """Cuts what is fed into lines. `feed` and `rest` raise `PlanError` for what is no text.

    Lines that come live have no end (`endless`); a log has `MOST_BYTES` at most.

    >>> TextLines().feed(b"one\\ntwo\\nthr")
    ['one', 'two']
    """

    def __init__(self, *, endless: bool = False) -> None:
        self._endless = endless
        self._left = b""
        self._size = 0
        self._cut = False

    def feed(self, piece: bytes) -> list[str]:
        """The lines that are complete with the next piece."""
        if not self._size:
            _refuse_other_forms(piece)
            piece = piece.removeprefix(_BYTE_ORDER_MARK)
        self._size += len(piece)
        if self._size > MOST_BYTES and not self._endless:
            raise PlanError(
                f"This log is larger than {MOST_BYTES // 1_000_000} MB. A minute of traffic from "
                "power-up on is enough: log a shorter time, or cut the file."
            )
        if b"\0" in piece:
            raise PlanError("This is no text, but a binary file. Save the log as text.")
        *whole, left = (self._left + piece).replace(b"\r", b"\n").split(b"\n")
        if self._cut and whole:
            # The rest of a line whose beginning was handed out already.
            whole, self._cut = whole[1:], False
        self._left = b"" if self._cut else left
        if len(self._left) > LONGEST_LINE:
            whole.append(self._left)
            self._left, self._cut = b"", True
        return [_text(line) for line in whole if line.strip()]

    def rest(self) -> list[str]:
        """The last line, where none is begun behind it."""
        left, self._left = self._left, b""
        return [_text(left)] if left.strip() else []


class LineReader(ABC, Generic[Entry]):
    """Reads a log line by line; what cannot be read is counted.

    `lines` were read, `unread` do not read as the form, `first_unread` is the first of them. `feed`
    and `end` raise `PlanError` for a file that is no such log. What comes live is `endless`.
    """

    no_log: ClassVar[str]
    """Why a file none of whose lines can be read is no such log, and how a line reads."""

    def __init__(self, *, endless: bool = False) -> None:
        self._text = TextLines(endless=endless)
        self.lines = 0
        self.unread = 0
        self.first_unread = ""

    def feed(self, piece: bytes) -> list[Entry]:
        """What the next piece of the file holds."""
        return self._read(self._text.feed(piece))

    def end(self) -> list[Entry]:
        """What the last line holds. Raises `PlanError` where the whole file holds nothing."""
        found = self._read(self._text.rest())
        if not self.lines:
            self._refuse()
        return found

    @property
    def remarks(self) -> list[str]:
        """What is to be known of the reading, in sentences."""
        if not self.unread:
            return []
        lines = counted(self.unread, "line")
        return [f"{lines} could not be read; the first: {self.first_unread}"]

    @abstractmethod
    def _is_heading(self, line: str) -> bool:
        """Whether a line is no entry and needs not be read as one."""

    @abstractmethod
    def _entry(self, line: str) -> Entry | None:
        """What a line holds; None for one that is left out. Raises `PlanError`."""

    def _read(self, lines: list[str]) -> list[Entry]:
        found = (self._line(line) for line in lines if not self._is_heading(line))
        return [entry for entry in found if entry is not None]

    def _line(self, line: str) -> Entry | None:
        try:
            entry = self._entry(line)
        except PlanError:
            self.unread += 1
            self.first_unread = self.first_unread or short(line)
            if not self.lines and self.unread >= PATIENCE:
                self._refuse()
            return None
        self.lines += 1
        return entry

    def _refuse(self) -> None:
        first = f"It begins: {self.first_unread}" if self.first_unread else "It is empty."
        raise PlanError(f"{self.no_log} {first}")


def short(line: str) -> str:
    """As much of a line as fits a sentence.

    >>> short("x" * 100) == "x" * 60 + "…"
    True
    """
    printable = "".join(each if each.isprintable() else "�" for each in line[: SHOWN + 1])
    return printable if len(printable) <= SHOWN else f"{printable[:SHOWN]}…"


def _text(line: bytes) -> str:
    return line[: LONGEST_LINE + 1].decode("utf-8", "replace").strip()


def _refuse_other_forms(piece: bytes) -> None:
    for beginnings, what in _OTHER_FORMS:
        if piece.startswith(beginnings):
            raise PlanError(f"This is {what}, not a log as plain text. Save the log as text.")
