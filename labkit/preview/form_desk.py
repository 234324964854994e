"""Forms for the exercises of the lab that is shown: what they hold, what they would write.

Nothing is written but the lab's own file, and that only as it was shown and where it was read.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from hashlib import sha256
from pathlib import Path
from threading import Lock
from typing import Any, Final

from labkit.doors import installed
from labkit.errors import LabkitError
from labkit.exchange.clock import CLOCK
from labkit.lab.draw import find
from labkit.lab.editing.block import changed, fresh
from labkit.lab.editing.file_text import FileText, NoSuchPlaceError, Piece
from labkit.lab.editing.filled_form import (
    NoFormError,
    names_of,
    path_of,
    unreadable,
    values_of,
    wanted_of,
)
from labkit.lab.editing.put_in_place import ChangedMeanwhileError, NotWrittenError, put_in_place
from labkit.lab.editing.shape import KIND, TAKEN, FieldShape, shape_of, shape_of_taken
from labkit.lab.editing.wanted import Wanted
from labkit.lab.library import came_with_labkit
from labkit.lab.reading import read_in_part
from labkit.lab.reading.definition_file import definition_bytes, lines_of, shown_name
from labkit.lab.reading.fields import id_like
from labkit.lab.reading.in_part import ReadInPart
from labkit.lab.reading.lineage import DefinitionText, lineage
from labkit.lab.reading.sections import is_exercise
from labkit.lab.reading.source import BlockPart
from labkit.lab.reading.taken_line import FROM, is_taken, names_exercise
from labkit.language.problems import DefinitionError, Place, Problem
from labkit.preview.drawn import why_not
from labkit.preview.shown_lines import hunks
from labkit.preview.taking_desk import TakingDesk
from labkit.preview.told import Lines

_OF_LABKIT: Final = (
    "This lab came with labkit and is not written to. Write a lab of your own that extends it, or "
    "copy its folder."
)
_INHERITED: Final = (
    "This exercise stands in {place.file}, line {place.line}, which this lab extends: changed "
    "there, it changes for every lab that extends it. Open a preview of that lab to do so. To have "
    "another one in this lab alone, write one with the same id into this file: ```exercise {id}"
)
_NO_ID: Final = (
    "Line {line}: this exercise has no id of its own. Write one behind ```exercise in the file."
)
_INDENTED: Final = "This exercise is indented: put its lines at the left margin in the file."
_GONE: Final = (
    "{file} is not there any more. Was the lab's folder renamed or moved? Give it its old name "
    "again, or end this preview and open one of the folder as it is called now; what you typed is "
    "still here."
)
_LONGEST_ID: Final = 60


class NoFormHereError(LabkitError):
    """There is no form for this exercise, and why."""


@dataclass(frozen=True, slots=True)
class _Act:
    """What is to stand in the file, and where the exercise is then."""

    raw: str
    exercise: str
    what: str
    fields: str


@dataclass(frozen=True, slots=True)
class _Undo:
    """The last thing that was written: what stood there before, and what stands there since."""

    before: bytes
    after: bytes
    what: str
    at: str


class FormDesk:
    """The forms of the lab at `path`. May be asked from several threads."""

    def __init__(self, path: Path) -> None:
        self._path, self._lock = path, Lock()
        self._taking = TakingDesk(path)
        self._undo: _Undo | None = None
        self._of = ""
        self.look()

    def look(self) -> None:
        """Look at the file: a page is told whether it is still the same."""
        with suppress(DefinitionError):
            self._of = _digest(definition_bytes(self._path))

    def told(self) -> dict[str, Any]:
        """What a page is told with each news."""
        undo = self._undo
        if undo is None or _digest(undo.after) != self._of:
            return {"of": self._of, "undo": None}
        return {"of": self._of, "undo": {"what": undo.what, "at": undo.at}}

    def kinds(self) -> list[dict[str, str]]:
        """The kinds of exercises that there are."""
        return [{"kind": name, "does": _does(name)} for name in sorted(installed.kinds())]

    def of_exercise(self, exercise: str) -> dict[str, Any]:
        """The form of an exercise as it stands in the file. Raises `LabkitError`."""
        data = self._data()
        text = self._text(data)
        at, block = self._block(text, exercise)
        kind = _kind_of(block)
        shape = self._shape(kind, block.fields.data.get(FROM))
        return {
            **self._form(kind, shape, data, text),
            "exercise": exercise,
            "title": text.pieces[at].title,
            "values": values_of(text.fields_of(at), shape),
            "at": at,
            "line": text.pieces[at].first + 1,
            "block": _digest(text.fields_of(at).encode()),
            "id": self._free_id(text, exercise),
        }

    def of_kind(self, kind: str) -> dict[str, Any]:
        """The form of a new exercise. Raises `LabkitError`."""
        if kind not in installed.kinds():
            raise NoFormHereError(f"There is no kind '{kind}'.")
        data = self._data()
        return {**self._form(kind, shape_of(kind), data, self._text(data)), "values": {}}

    def of_taken(self, line: str) -> dict[str, Any]:
        """The form of an exercise to be taken from another lab. Raises `LabkitError`."""
        data = self._data()
        form = self._form(TAKEN, self._shape(TAKEN, line), data, self._text(data))
        return {**form, "values": {FROM: line}}

    def to_take(self, sought: str) -> dict[str, Any]:
        """Exercises of other labs that have these words."""
        return self._taking.find(sought)

    def _shape(self, kind: str, line: Any = None) -> tuple[FieldShape, ...]:
        """The fields of a kind; of an exercise that is taken, those of the kind that it is of."""
        if kind != TAKEN:
            return shape_of(kind)
        if not names_exercise(line):
            return shape_of_taken(None)
        folder, _, exercise = line.split()[0].partition("/")
        return shape_of_taken(self._taking.kind_of(folder, exercise))

    def lines(self, said: dict[str, Any], seed: str) -> dict[str, Any]:
        """What would be written, and what is wrong with it. Raises `LabkitError`."""
        with self._lock:
            old = self._unchanged(said)
            text = self._text(old)
            try:
                act = self._act(said, text)
            except _AtFieldError as error:
                return {"hunks": [], "shown": "", "problems": [error.told], "elsewhere": []}
            new = act.raw.encode()
            problems, elsewhere = self._wrong(act, old, new, seed)
        return {
            "hunks": hunks(text.lines, lines_of(act.raw)),
            "shown": _digest(new),
            "problems": problems,
            "elsewhere": elsewhere,
        }

    def write(self, said: dict[str, Any]) -> dict[str, Any]:
        """Write what was shown. Raises `LabkitError`, `OSError`."""
        with self._lock:
            old = self._unchanged(said)
            act = self._act(said, self._text(old))
            new = act.raw.encode()
            if said.get("shown") != _digest(new):
                raise NotWrittenError("This is not what was shown: look at the lines once more.")
            self._put(old, new)
            self._undo = _Undo(old, new, act.what, f"{CLOCK.moment().astimezone():%H:%M:%S}")
            return {"exercise": act.exercise, "what": act.what, **self.told()}

    def undo(self, said: dict[str, Any]) -> dict[str, Any]:
        """Put back what stood there before the last writing, of which the page that asks was told.

        Raises `LabkitError`, `OSError`.
        """
        with self._lock:
            undo = self._undo
            if undo is None:
                raise NotWrittenError("There is nothing to undo.")
            self._unchanged(said)
            self._put(undo.after, undo.before)
            self._undo = None
            return {"what": undo.what, **self.told()}

    def _put(self, old: bytes, new: bytes) -> None:
        if came_with_labkit(self._path):
            raise NotWrittenError(_OF_LABKIT)
        put_in_place(self._path, old, new)
        self._of = _digest(new)

    def _unchanged(self, said: dict[str, Any]) -> bytes:
        """The file, where it is still the one that the form was made of."""
        data = self._data()
        if said.get("of") != _digest(data):
            raise ChangedMeanwhileError
        return data

    def _data(self) -> bytes:
        if not self._path.exists():
            raise NoFormHereError(_GONE.format(file=shown_name(self._path)))
        return definition_bytes(self._path)

    def _text(self, data: bytes) -> FileText:
        try:
            return FileText.of(data.decode(), shown_name(self._path))
        except UnicodeDecodeError as error:
            raise NoFormHereError("The file is not UTF-8 text: save it as UTF-8.") from error

    def _form(
        self, kind: str, shape: Sequence[FieldShape], data: bytes, text: FileText
    ) -> dict[str, Any]:
        self._of = _digest(data)
        return {
            "of": self._of,
            "file": shown_name(self._path),
            "kind": kind,
            "does": _does(kind),
            "fields": [asdict(field) for field in shape],
            "places": [
                {"title": piece.title, "exercise": piece.exercise, "heading": piece.is_heading}
                for piece in text.pieces
            ],
            "names": self._names(),
            "locked": _OF_LABKIT if came_with_labkit(self._path) else "",
        }

    def _names(self) -> list[dict[str, str]]:
        """The names that formulas may use, and the fields that a row of each table has."""
        lab = read_in_part(self._path).lab
        if lab is None:
            return []  # what is wrong with the header is told beside it
        drawn = (parameter.name for parameter in lab.parameters)
        network = ["network"] if lab.network else []
        names = sorted({*drawn, *lab.derived, *lab.constants, *network})
        rows = {f"a row of {name}": ", ".join(table.fields) for name, table in lab.tables.items()}
        return [{"of": of, "names": each} for of, each in {"": ", ".join(names), **rows}.items()]

    def _block(self, text: FileText, exercise: str) -> tuple[int, BlockPart]:
        """An exercise that can be changed here. Raises `LabkitError`."""
        try:
            at = text.place_of(exercise)
        except NoSuchPlaceError:
            self._tell_inherited(exercise)
            raise
        block = text.pieces[at].block
        assert block is not None
        if not block.name:
            raise NoFormHereError(_NO_ID.format(line=block.place.line))
        if block.problems:
            first = block.problems[0]
            raise NoFormHereError(
                f"The fields of this exercise cannot be read, so they make no form yet. "
                f"Line {first.place.line}: {first.message} {first.mend}".strip()
            )
        if not text.lines[block.place.line - 1].startswith(("`", "~")):
            raise NoFormHereError(_INDENTED)
        return at, block

    def _tell_inherited(self, exercise: str) -> None:
        for parent in self._parents():
            for part in parent.source.parts:
                if is_exercise(part) and part.name == exercise:
                    raise NoFormHereError(_INHERITED.format(place=part.place, id=exercise))

    def _parents(self) -> tuple[DefinitionText, ...]:
        with suppress(DefinitionError):
            return lineage(self._path, in_part=True)[1:]
        return ()

    def _act(self, said: dict[str, Any], text: FileText) -> _Act:
        does = {
            "change": self._change,
            "add": self._add,
            "copy": self._copy,
            "move": self._move,
        }.get(str(said.get("do")))
        if does is None:
            raise NoFormError("That is no form of this page.")
        act = does(said, text)
        text.stays_but(act.exercise, self._text(act.raw.encode()), act.fields)
        return act

    def _change(self, said: dict[str, Any], text: FileText) -> _Act:
        exercise = _name(said, "exercise")
        at, block = self._block(text, exercise)
        kind, values = _kind_of(block), said.get("values")
        shape = self._shape(kind, block.fields.data.get(FROM))
        wanted = _readable(_wanted(values, shape, kind, block.fields.data))
        fields = changed(text.fields_of(at), wanted, names_of(shape))
        title = text.pieces[at].title
        return _Act(text.changed(at, fields), exercise, f"'{title}' changed", fields)

    def _add(self, said: dict[str, Any], text: FileText) -> _Act:
        kind, values = _name(said, "kind"), said.get("values")
        if kind not in (*installed.kinds(), TAKEN):
            raise NoFormError("That is no form of this page.")
        shape = self._shape(kind, values.get(FROM) if isinstance(values, dict) else None)
        wanted = _readable(_wanted(values, shape, kind, {}))
        title = " ".join(str(wanted.get("title", "")).split())
        exercise = self._new_id(said, text, title or _id_there(wanted))
        fields = fresh(wanted, names_of(shape))
        raw = text.added(_after(said, text), exercise, fields)
        return _Act(raw, exercise, f"'{title[:_LONGEST_ID] or exercise}' added", fields)

    def _copy(self, said: dict[str, Any], text: FileText) -> _Act:
        original = _name(said, "exercise")
        at, _ = self._block(text, original)
        exercise = self._new_id(said, text, original)
        what = f"'{text.pieces[at].title}' copied"
        return _Act(text.copied(at, exercise), exercise, what, text.fields_of(at))

    def _move(self, said: dict[str, Any], text: FileText) -> _Act:
        exercise = _name(said, "exercise")
        at, _ = self._block(text, exercise)
        after = _after(said, text)
        if after in (at, at - 1):
            raise NoFormHereError("It stands there already.")
        title, raw = text.pieces[at].title, text.moved(at, after)
        return _Act(raw, exercise, f"'{title}' moved", text.fields_of(at))

    def _new_id(self, said: dict[str, Any], text: FileText, title: str) -> str:
        """The id of a new exercise. Raises `_AtFieldError` where it cannot be one."""
        typed = _name(said, "id").strip()
        if not typed:
            return self._free_id(text, id_like(title)[:_LONGEST_ID].strip("-") or "exercise")
        offer = id_like(typed)[:_LONGEST_ID].strip("-")
        if typed != offer:
            such = f", such as {offer}" if offer else ""
            raise _AtFieldError(f"Use small letters, digits and '-'{such}.")
        if typed in self._taken(text):
            raise _AtFieldError(f"There is an exercise '{typed}' already: take another id.")
        return typed

    def _free_id(self, text: FileText, wish: str) -> str:
        taken = self._taken(text)
        numbered = (f"{wish[: _LONGEST_ID - 4]}-{number}" for number in range(2, len(taken) + 3))
        return next(each for each in (wish, *numbered) if each not in taken)

    def _taken(self, text: FileText) -> set[str]:
        """Ids that are taken; one of a lab that is extended would put its exercise away."""
        parents = (part for parent in self._parents() for part in parent.source.parts)
        inherited = {part.name for part in parents if is_exercise(part)}
        return inherited | {piece.exercise for piece in text.exercises}

    def _wrong(
        self, act: _Act, old: bytes, new: bytes, seed: str
    ) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
        """What is wrong at the fields of the exercise, and what is newly wrong elsewhere."""
        read = read_in_part(self._path, instead=new)
        text = self._text(new)
        piece = text.pieces[text.place_of(act.exercise)]
        here = [each for each in read.problems if self._is_at(each.place, piece)]
        if not here:
            here = [*_of_draw(read, act.exercise, seed)]
        known = read_in_part(self._path, instead=old).problems
        before = {(each.place.field, each.message) for each in known}
        elsewhere = [
            each
            for each in read.problems
            if each not in here and (each.place.field, each.message) not in before
        ]
        return [*map(_at_field, here)], [*map(_at_field, elsewhere)]

    def _is_at(self, place: Place, piece: Piece) -> bool:
        return place.file == shown_name(self._path) and piece.first < place.line <= piece.end


class _AtFieldError(LabkitError):
    """Something at a field cannot be written at all."""

    def __init__(self, sentence: str, mend: str = "", path: Sequence[str | int] = ("id",)) -> None:
        super().__init__(f"{sentence} {mend}".strip())
        problem = Lines(()).problem(Problem(Place("", 0), sentence, mend))
        self.told = {**problem, "path": [*path]}


def _wanted(
    values: Any, shape: Sequence[FieldShape], kind: str, old: dict[str, Any]
) -> dict[str, Wanted]:
    """What a form wants to be written; what is taken has the kind that it has there."""
    wanted = wanted_of(values, shape, kind, old)
    if kind == TAKEN:
        del wanted[KIND]
    return wanted


def _id_there(wanted: dict[str, Wanted]) -> str:
    """The id in the other lab of an exercise that is taken; "" of any other."""
    line = str(wanted.get(FROM, ""))
    return line.split()[0].rpartition("/")[2] if names_exercise(line) else ""


def _readable(wanted: dict[str, Wanted]) -> dict[str, Wanted]:
    """The same. Raises `_AtFieldError` for lines that cannot be read."""
    for path, problem in unreadable(wanted):
        raise _AtFieldError(f"Line {problem.place.line}: {problem.message}", problem.mend, path)
    return wanted


def _of_draw(read: ReadInPart, exercise: str, seed: str) -> Iterator[Problem]:
    """What comes up when the exercise is drawn."""
    if read.lab is None:
        return
    try:
        scenario = find(read.lab, seed)
    except DefinitionError:
        return  # of the header: no exercise can be drawn
    for part in read.lab.exercises:
        if part.id == exercise:
            yield from why_not(part, scenario)


def _at_field(problem: Problem) -> dict[str, Any]:
    return {**Lines(()).problem(problem), "path": path_of(problem.place.field)}


def _kind_of(block: BlockPart) -> str:
    if is_taken(block):
        return TAKEN
    kind = block.fields.data.get("kind")
    if not isinstance(kind, str) or kind not in installed.kinds():
        raise NoFormHereError(
            f"Line {block.place.line}: the kind of this exercise is not known, so it has no form. "
            "Write its 'kind:' in the file."
        )
    return kind


def _does(kind: str) -> str:
    with suppress(LabkitError, AttributeError):
        return installed.what_is_done(kind)
    return ""


def _name(said: dict[str, Any], name: str) -> str:
    value = said.get(name, "")
    if not isinstance(value, str):
        raise NoFormError("That is no form of this page.")
    return value


def _after(said: dict[str, Any], text: FileText) -> int:
    after = said.get("after")
    if type(after) is not int or not -1 <= after < len(text.pieces):
        raise NoFormError("That is no form of this page.")
    return after


def _digest(data: bytes) -> str:
    return sha256(data).hexdigest()
