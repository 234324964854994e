"""A definition's file as text: its exercises changed, added, copied and moved in it.

Whatever is not changed stays as it is written, to the byte: line ends too, whichever system's
editor wrote them. Moving exchanges what stands between the blank lines and leaves these, so that
what is moved back stands as before.
"""

from __future__ import annotations

import difflib
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from markdown_it import MarkdownIt

from labkit.errors import LabkitError
from labkit.lab.reading.definition_file import lines_of
from labkit.lab.reading.sections import is_exercise, without_marks
from labkit.lab.reading.source import BlockPart, ProsePart, read_source

_LINE_END: Final = re.compile("(\r\n|\r|\n)")
_BEGINS: Final = re.compile(r"(`{3,}|~{3,})(\s*exercise\s+)(.*)")
_SHOWN: Final = 60
"""Characters of a text that are shown of it."""


class OtherwiseReadError(LabkitError):
    """Written so, other parts of the file would read as something else."""

    def __init__(self) -> None:
        super().__init__(
            "Written so, other parts of the file would read otherwise than they do now. Do this in "
            "the file itself."
        )


class NoSuchPlaceError(LabkitError):
    """There is nothing in the file where something is to be changed."""


@dataclass(frozen=True, slots=True)
class Piece:
    """What stands between blank lines: an exercise, a picture, a paragraph, a list, a table.

    Its lines count from 0, `end` is the line behind them.
    """

    first: int
    end: int
    title: str
    block: BlockPart | None = None
    is_heading: bool = False

    @property
    def exercise(self) -> str:
        """The exercise's name as a page knows it; "" where it is none."""
        if self.block is None or not is_exercise(self.block):
            return ""
        return self.block.name or f"line-{self.block.place.line}"


@dataclass(frozen=True, slots=True)
class FileText:
    """A definition's file, taken apart."""

    raw: str
    lines: tuple[str, ...]
    body: int
    pieces: tuple[Piece, ...]

    @staticmethod
    def of(raw: str, file: str) -> FileText:
        """Raises `DefinitionError` where not even the header's end is found."""
        source = read_source(raw, file, in_part=True)
        lines = lines_of(raw)
        body = next(number for number, line in enumerate(lines[1:], 1) if line.rstrip() == "---")
        pieces: list[Piece] = []
        for part in source.parts:
            pieces += [_of_block(part)] if isinstance(part, BlockPart) else _of_prose(part)
        return FileText(raw, tuple(lines), body + 1, tuple(pieces))

    @property
    def exercises(self) -> list[Piece]:
        """The exercises, in their order."""
        return [piece for piece in self.pieces if piece.exercise]

    def place_of(self, exercise: str) -> int:
        """Where among the pieces an exercise stands. Raises `NoSuchPlaceError`."""
        if not exercise:
            raise NoSuchPlaceError("Choose an exercise first.")
        found = [at for at, piece in enumerate(self.pieces) if piece.exercise == exercise]
        if len(found) == 1:
            return found[0]
        if found:
            raise NoSuchPlaceError(
                f"The file has {len(found)} exercises '{exercise}': mend that first."
            )
        if exercise.startswith("line-"):
            raise NoSuchPlaceError(
                "This exercise has no id, or that of another one: give it one of its own in the "
                "file."
            )
        raise NoSuchPlaceError(f"The file has no exercise '{exercise}' any more.")

    def fields_of(self, at: int) -> str:
        """The lines between the fences of a block."""
        piece = self.pieces[at]
        return "".join(f"{line}\n" for line in self.lines[piece.first + 1 : piece.end - 1])

    def changed(self, at: int, fields: str) -> str:
        """The file with other lines between the fences of a block."""
        piece = self.pieces[at]
        inner = fields.removesuffix("\n").split("\n") if fields else []
        lines = [*self.lines[: piece.first + 1], *inner, *self.lines[piece.end - 1 :]]
        return self._as_it_was(lines)

    def added(self, after: int, exercise: str, fields: str) -> str:
        """The file with one exercise more, behind a piece; -1 is above all."""
        return self._put_in(after, [f"```exercise {exercise}", *fields.splitlines(), "```"])

    def copied(self, at: int, exercise: str) -> str:
        """The file with an exercise once more behind itself, under another name."""
        piece = self.pieces[at]
        begins = _BEGINS.fullmatch(self.lines[piece.first])
        if begins is None:
            raise NoSuchPlaceError("This exercise does not begin at the left margin.")
        first = f"{begins[1]}{begins[2]}{exercise}"
        return self._put_in(at, [first, *self.lines[piece.first + 1 : piece.end]])

    def moved(self, at: int, after: int) -> str:
        """The file with a piece behind another; -1 is above all."""
        order = [*range(len(self.pieces))]
        order.remove(at)
        order.insert(order.index(after) + 1 if after >= 0 else 0, at)
        return self._as_it_was(self._in_order(order))

    def stays_but(self, exercise: str, new: FileText, fields: str) -> None:
        """Hold a new text against this one: all stays but this exercise, which has these lines.

        Raises `OtherwiseReadError`: a text may hold a line that ends its block, or two lists may
        run into one.
        """
        found = [at for at, piece in enumerate(new.pieces) if piece.exercise == exercise]
        same = len(found) == 1 and new.fields_of(found[0]) == fields
        if not same or new.header != self.header or self._others(exercise) != new._others(exercise):
            raise OtherwiseReadError

    @property
    def header(self) -> tuple[str, ...]:
        """The lines of the header."""
        return self.lines[: self.body]

    def _others(self, exercise: str) -> list[tuple[str, ...]]:
        others = (piece for piece in self.pieces if piece.exercise != exercise)
        return [self.lines[piece.first : piece.end] for piece in others]

    def _in_order(self, order: Sequence[int]) -> list[str]:
        lines = [*self.lines[: self._ends(-1)]]
        for turn, number in enumerate(order):
            piece = self.pieces[number]
            gap = self.lines[self._ends(turn - 1) : self.pieces[turn].first]
            one_text = turn > 0 and not self.pieces[order[turn - 1]].block and not piece.block
            if one_text and not gap:
                gap = ("",)  # two texts would run into one
            lines += [*gap, *self.lines[piece.first : piece.end]]
        return [*lines, *self.lines[self._ends(len(order) - 1) :]]

    def _ends(self, at: int) -> int:
        return self.pieces[at].end if at >= 0 else self.body

    def _put_in(self, after: int, block: Sequence[str]) -> str:
        at = self._ends(after)
        above = [*self.lines[:at], ""]
        below = [*self.lines[at:]]
        if after < 0 and below and not below[0].strip():
            above, below = [*self.lines[: at + 1]], [*self.lines[at + 1 :]]
            return self._as_it_was([*above, *block, "", *below])
        if below and below[0].strip():
            below.insert(0, "")
        return self._as_it_was([*above, *block, *(below or [""])])

    def _as_it_was(self, lines: Sequence[str]) -> str:
        """The lines with the file's own line ends."""
        pieces = _LINE_END.split(self.raw)
        ends = pieces[1::2]
        if not ends or set(ends) == {"\n"}:
            return "\n".join(lines)
        usual = Counter(ends).most_common(1)[0][0]
        if len(set(ends)) == 1:
            return usual.join(lines)
        ends.append("")
        return _with_ends(self.lines, ends, lines, usual)


def _with_ends(old: Sequence[str], ends: Sequence[str], new: Sequence[str], usual: str) -> str:
    """Lines of a file in which line ends are mixed: each that stays keeps its own."""
    of_new = [usual] * len(new)
    matcher = difflib.SequenceMatcher(None, old, new, autojunk=False)
    for start, place, size in matcher.get_matching_blocks():
        of_new[place : place + size] = ends[start : start + size]
    last = len(new) - 1
    return "".join(
        line + (end or usual if number < last else "")
        for number, (line, end) in enumerate(zip(new, of_new, strict=True))
    )


def _of_block(part: BlockPart) -> Piece:
    title = part.fields.data.get("title")
    words = title if isinstance(title, str) and title.strip() else part.name or part.word
    return Piece(part.place.line - 1, part.last, _short(words), part)


def _of_prose(part: ProsePart) -> list[Piece]:
    lines = part.text.split("\n")
    tokens = MarkdownIt("commonmark").parse(part.text)
    begins = {token.map[0] for token in tokens if token.level == 0 and token.map}
    cuts = sorted({0, *begins})
    pieces = []
    for start, end in zip(cuts, [*cuts[1:], len(lines)], strict=True):
        while end > start + 1 and not lines[end - 1].strip():
            end -= 1
        offset = part.place.line - 1
        line = lines[start]
        pieces.append(
            Piece(offset + start, offset + end, _words_of(line), is_heading=line.startswith("#"))
        )
    return pieces


def _words_of(line: str) -> str:
    return _short(without_marks(line).lstrip("#>*- ").strip() or line)


def _short(text: str) -> str:
    words = " ".join(text.split())
    return words if len(words) <= _SHOWN else f"{words[:_SHOWN].rstrip()}…"
