"""The files that a definition is made of.

They are its own, those of the labs that it extends, and those that exercises of it are taken from.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from labkit.lab.library import lab_library
from labkit.lab.reading.definition_file import definition_bytes, shown_name
from labkit.lab.reading.pictures import Pictures
from labkit.lab.reading.source import Source, read_source
from labkit.lab.reading.table_file import TableFile, problems_of, tables_of
from labkit.lab.reading.taken_line import labs_named
from labkit.language.problems import DefinitionError, Place, Problem, definition_error, nearest

if TYPE_CHECKING:
    from labkit.lab.reading.picture_file import Carried

LAB_FILE: Final = "lab.md"
MAX_ANCESTORS: Final = 8
MAX_TAKEN_FROM: Final = 20
"""From so many labs a definition may have exercises, those that they have from others too."""
_BESIDE: Final = re.compile(r"(?:\.\./)?([a-z0-9][a-z0-9-]{0,59})(?:/lab\.md)?")


@dataclass(frozen=True, slots=True)
class TakenFrom:
    """The files of a lab that exercises are taken from; or why there are none, and the mend."""

    texts: tuple[DefinitionText, ...] = ()
    why_not: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class DefinitionText:
    """One file of a definition: where it is, its text, its parts, what it names beside it.

    `takes` are the labs that exercises of it are taken from, by the names of their folders.
    """

    path: Path
    text: str
    source: Source
    pictures: tuple[Carried, ...] = ()
    tables: tuple[TableFile, ...] = ()
    takes: Mapping[str, TakenFrom] = field(default_factory=dict)

    @property
    def extends(self) -> Any:
        """What its header says it extends; None where it stands alone."""
        return self.source.header.data.get("extends")


def lineage(
    path: Path,
    *,
    dealt: bool = False,
    in_part: bool = False,
    beside: Path | None = None,
    instead: bytes | None = None,
) -> tuple[DefinitionText, ...]:
    """The file at `path` and those that it extends, the nearest first.

    `dealt` and `in_part` are as in `read_source`. What is to be written into the first can be read
    `instead` of what stands there.

    The pictures and tables of the first lie in the folder `beside` where one is given: it is then
    told when one is not there, whether the text was dealt or not.

    Raises `DefinitionError` when one of them is missing, is not text, or extends itself.
    """
    first = _read(path, dealt, in_part, beside, instead)
    return _Files(dealt).lineage_of(first, frozenset(), in_part=in_part)


def with_taken(texts: Sequence[DefinitionText]) -> tuple[DefinitionText, ...]:
    """The files of a lineage, then those that exercises of it are taken from, each of them once."""
    every = {text.path: text for text in texts}
    for text in texts:
        for taken in text.takes.values():
            every |= {one.path: one for one in with_taken(taken.texts) if one.path not in every}
    return tuple(every.values())


def files_of(path: Path) -> dict[tuple[str, str], bytes]:
    """Every file that the definition at `path` is made of, by its folder's and its own name.

    The definition's own text comes first, then those that it extends or takes exercises from, then
    the pictures and tables. Raises `DefinitionError`.
    """
    texts = with_taken(lineage(path))
    files = {(text.path.parent.name, LAB_FILE): text.text.encode("utf-8") for text in texts}
    for text in texts:
        files |= {(text.path.parent.name, each.name): each.data for each in text.pictures}
        files |= {(text.path.parent.name, each.name): each.data for each in text.tables}
    return files


def digest_of(texts: Sequence[str]) -> str:
    """The SHA-256 of a definition's text; of several, that of their digests one a line."""
    digests = [sha256(text.encode("utf-8", "surrogatepass")).hexdigest() for text in texts]
    return digests[0] if len(digests) == 1 else sha256("\n".join(digests).encode()).hexdigest()


def digest_with_pictures(texts: Sequence[DefinitionText]) -> str:
    """The digest of a definition: of its texts, and of the pictures and tables that it names."""
    of_texts = digest_of([text.text for text in texts])
    pictures = [each.digest for text in texts for each in text.pictures]
    tables = [each.digest for text in texts for each in text.tables]
    if not pictures and not tables:
        return of_texts
    return sha256("\n".join([of_texts, *sorted(pictures + tables)]).encode()).hexdigest()


def has_digest(path: Path, digest: str) -> bool:
    """Whether the definition at `path` has this digest. Raises `DefinitionError`.

    What was dealt before pictures were carried is known by its texts alone.
    """
    # Nothing has to be taken apart where one file is all there is; if it cannot be read, the long
    # way says so.
    with suppress(DefinitionError):
        if sha256(definition_bytes(path)).hexdigest() == digest:
            return True
    texts = with_taken(lineage(path, dealt=True))
    return digest in (digest_with_pictures(texts), digest_of([text.text for text in texts]))


@dataclass(slots=True)
class _Files:
    """The files that are read for one definition; each lab that exercises are taken from once."""

    dealt: bool
    taken_from: dict[Path, TakenFrom] = field(default_factory=dict)

    def lineage_of(
        self, first: DefinitionText, users: frozenset[Path], *, in_part: bool = False
    ) -> tuple[DefinitionText, ...]:
        """The lineage of a file that those of `users` need. Raises `DefinitionError`."""
        texts = [first]
        while texts[-1].extends is not None:
            parent = _parent(texts[-1])
            if any(_same(parent, text.path) for text in texts):
                raise _extends_error(
                    texts[-1], "this goes round in a circle: a lab cannot extend itself."
                )
            if len(texts) > MAX_ANCESTORS:
                raise _extends_error(
                    texts[-1], f"this is one of more than {MAX_ANCESTORS} ancestors."
                )
            texts.append(_read(parent, self.dealt, in_part))
        for number, text in enumerate(texts):
            # What an ancestor takes, all below it need too.
            needing = users | {_absolute(one.path) for one in texts[: number + 1]}
            takes = {
                name: self._from(text, name, needing) for name in labs_named(text.source.parts)
            }
            texts[number] = replace(text, takes=takes)
        return tuple(texts)

    def _from(self, text: DefinitionText, name: str, users: frozenset[Path]) -> TakenFrom:
        path = _beside_or_shipped(text, name)
        if path is None:
            return TakenFrom(why_not=_no_such_lab(text, name))
        if path == _absolute(text.path):
            return TakenFrom(
                why_not=(
                    f"'{name}' is this lab itself.",
                    "Copy the exercise's block here and give it an id of its own.",
                )
            )
        if path in users:
            return TakenFrom(why_not=_circle(name))
        if path not in self.taken_from:
            if len(self.taken_from) >= MAX_TAKEN_FROM:
                return TakenFrom(why_not=_too_many())
            # Until its files are known it stands for one that cannot be read.
            self.taken_from[path] = TakenFrom(why_not=_circle(name))
            self.taken_from[path] = self._read(path, name, users)
        found = self.taken_from[path]
        if any(_absolute(one.path) in users for one in found.texts):
            return TakenFrom(why_not=_circle(name))
        return found

    def _read(self, path: Path, name: str, users: frozenset[Path]) -> TakenFrom:
        try:
            return TakenFrom(self.lineage_of(_read(path, self.dealt, False), users))
        except DefinitionError as error:
            return TakenFrom(why_not=cannot_be_read(name, error))


def cannot_be_read(name: str, error: DefinitionError) -> tuple[str, str]:
    """Why no exercise can be taken from a lab, and the mend."""
    return (
        f"'{name}' cannot be read: {error.problems[0]}",
        "Mend that lab first, or take the exercise from another.",
    )


def _circle(name: str) -> tuple[str, str]:
    return (
        f"this goes round in a circle: '{name}' needs this lab itself.",
        "Copy the exercise's block here and give it an id of its own.",
    )


def _too_many() -> tuple[str, str]:
    return (
        f"the exercises come from more than {MAX_TAKEN_FROM} labs.",
        "Take some out, or copy their blocks.",
    )


def _read(
    path: Path,
    dealt: bool,
    in_part: bool,
    beside: Path | None = None,
    instead: bytes | None = None,
) -> DefinitionText:
    shown = shown_name(path)
    data = definition_bytes(path) if instead is None else instead
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise DefinitionError(
            [Problem(Place(shown, line), "this is not UTF-8 text.", "Save the file as UTF-8.")]
        ) from error
    source = read_source(text, shown, dealt=dealt, in_part=in_part)
    pictures = Pictures.of(beside or path.parent, source)
    source = pictures.source
    tables = tables_of(beside or path.parent, source)
    problems = [*(pictures.problems if beside or not dealt else ()), *problems_of(tables)]
    if problems and not in_part:
        raise DefinitionError(problems)
    source = replace(source, strays=(*source.strays, *problems))
    return DefinitionText(path, text, source, tuple(pictures.found.values()), tables)


def _parent(child: DefinitionText) -> Path:
    written = child.extends
    match = _BESIDE.fullmatch(written) if isinstance(written, str) else None
    if match is None:
        raise _extends_error(
            child,
            f"'{written}' is not the name of a lab's folder.",
            "Write the name of its folder, such as 'extends: plan-the-trunk'.",
        )
    parent = _beside_or_shipped(child, match[1])
    if parent is None:
        raise _extends_error(child, *_no_such_lab(child, match[1]))
    return parent


def _beside_or_shipped(text: DefinitionText, name: str) -> Path | None:
    """The lab of this name that lies beside another, else the one that comes with labkit."""
    libraries = (_library_of(text), _absolute(lab_library()))
    files = (library / name / LAB_FILE for library in libraries)
    return next((file for file in files if file.is_file()), None)


def _no_such_lab(text: DefinitionText, name: str) -> tuple[str, str]:
    folders = {
        file.parent.name
        for library in (_library_of(text), lab_library())
        for file in library.glob(f"*/{LAB_FILE}")
    }
    return (
        f"there is no lab '{name}' beside this one, and none that comes with labkit.",
        nearest(name, folders - {_absolute(text.path).parent.name}),
    )


def _library_of(text: DefinitionText) -> Path:
    return _absolute(text.path).parent.parent


def _extends_error(child: DefinitionText, message: str, mend: str = "") -> DefinitionError:
    return definition_error(child.source.header.place(("extends",)), message, mend)


def _same(one: Path, other: Path) -> bool:
    return _absolute(one) == _absolute(other)


def _absolute(path: Path) -> Path:
    """The whole path. Links stay: a library may hold links to labs that lie elsewhere."""
    return Path(os.path.abspath(path))
