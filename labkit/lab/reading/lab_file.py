"""A lab file read into a `Lab`, with every problem found told at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from labkit.lab.definition import Lab
from labkit.lab.reading.extending import extended
from labkit.lab.reading.in_part import ReadInPart
from labkit.lab.reading.lab_reader import LabReader, reader_of_source
from labkit.lab.reading.lineage import (
    DefinitionText,
    TakenFrom,
    cannot_be_read,
    digest_of,
    digest_with_pictures,
    lineage,
    with_taken,
)
from labkit.lab.reading.pictures import Pictures
from labkit.lab.reading.sections import mark_problems
from labkit.lab.reading.source import Source, read_source
from labkit.lab.reading.table_file import problems_of, tables_of
from labkit.lab.reading.taken_line import is_taken, place_of
from labkit.lab.reading.taking import WithTaken, with_exercises
from labkit.lab.reading.wanted import BankLab
from labkit.language.problems import DefinitionError, Problem, definition_error
from labkit.language.tables import Table


def read_lab(
    path: Path, *, dealt: bool = False, pictures: bool = True, beside: Path | None = None
) -> Lab:
    """Read the definition in the file at `path`, and those of the labs that it extends.

    One that was `dealt` is read as it was then: text that is nearly an exercise is let pass, and so
    is a picture that is not there. Without `pictures` they are looked at, but their data is not in
    the texts. `beside` as in `lineage`.
    Raises `DefinitionError`, which lists every problem with its file, line, field and a mend; also
    when a file is missing or is not text.
    """
    texts = lineage(path, dealt=dealt, beside=beside)
    if not dealt and (problems := _mark_problems(texts)):
        raise DefinitionError(problems)
    return _reader_of(texts, pictures=pictures, dealt=dealt).read()


def read_in_part(path: Path, *, instead: bytes | None = None) -> ReadInPart:
    """Read what can be read of the definition at `path`; what is wrong in it comes along.

    `instead` as in `lineage`.
    """
    try:
        texts = lineage(path, in_part=True, instead=instead)
        reader = _reader_of(texts)
    except DefinitionError as error:
        return ReadInPart(None, error.problems)
    reader.problems += [problem for text in texts for problem in text.source.strays]
    reader.problems += _mark_problems(texts)
    every = with_taken(texts)
    tables = [text.path.parent / each.name for text in every for each in text.tables if each.data]
    files = (*(text.path for text in every), *tables)
    return replace(reader.read_in_part(), files=files)


def _reader_of(
    texts: Sequence[DefinitionText], *, pictures: bool = True, dealt: bool = False
) -> LabReader:
    return _Bank(dealt).reader_of(texts, pictures=pictures)


@dataclass(slots=True)
class _Bank:
    """Labs that exercises are taken from, each read once."""

    dealt: bool
    read: dict[Path, BankLab] = field(default_factory=dict)

    def reader_of(self, texts: Sequence[DefinitionText], *, pictures: bool) -> LabReader:
        """The reader of the lab that these files make; none of its exercises is to be taken yet."""
        every = with_taken(texts)
        whole = self._together(texts)
        digests = digest_with_pictures(every), digest_of([text.text for text in every])
        shown = {each.token: each.uri for text in every for each in text.pictures if pictures}
        reader = reader_of_source(
            whole.source,
            digests,
            tuple(text.path.parent.name for text in texts[1:]),
            shown,
            whole.tables,
            dealt=self.dealt,
        )
        reader.takes_from = tuple(text.path.parent.name for text in every[len(texts) :])
        return reader

    def _together(self, texts: Sequence[DefinitionText]) -> WithTaken:
        *children, eldest = texts
        whole = self._with_exercises(eldest.source, eldest)
        tables = {**whole.tables, **_tables_of(eldest)}
        for child in reversed(children):
            whole = self._with_exercises(extended(child.source, whole.source), child)
            tables |= {**whole.tables, **_tables_of(child)}
        return replace(whole, tables=tables)

    def _with_exercises(self, source: Source, text: DefinitionText) -> WithTaken:
        bank = {name: self._lab(name, taken) for name, taken in text.takes.items()}
        return with_exercises(source, bank)

    def _lab(self, name: str, taken: TakenFrom) -> BankLab:
        if taken.why_not:
            return BankLab(why_not=taken.why_not)
        path = taken.texts[0].path
        if path not in self.read:
            self.read[path] = self._read(name, taken.texts)
        return self.read[path]

    def _read(self, name: str, texts: Sequence[DefinitionText]) -> BankLab:
        try:
            if not self.dealt and (problems := _mark_problems(texts)):
                raise DefinitionError(problems)
            reader = self.reader_of(texts, pictures=False)
            return BankLab(reader.source, reader.read())
        except DefinitionError as error:
            return BankLab(why_not=cannot_be_read(name, error))


def _tables_of(text: DefinitionText) -> dict[str, Table]:
    return {each.called: each.table for each in text.tables}


def read_lab_text(text: str, file: str = "lab.md") -> Lab:
    """Read a definition from its text; `file` is the name that problems carry.

    Raises `DefinitionError`; also when the text needs another lab, which only a file can.
    """
    source = read_source(text, file)
    alone = "a text without a folder has no lab beside it."
    if "extends" in source.header.data:
        raise definition_error(source.header.place(("extends",)), alone)
    if taken := next(filter(is_taken, source.parts), None):
        raise definition_error(place_of(taken), alone)
    problems = _mark_problems([DefinitionText(Path(file), text, source)])
    problems += Pictures.of(Path(file) / "nowhere", source).problems
    problems += problems_of(tables_of(Path(file) / "nowhere", source))
    if problems:
        raise DefinitionError(problems)
    digest = digest_of([text])
    return reader_of_source(source, (digest, digest), (), {}).read()


def _mark_problems(texts: Iterable[DefinitionText]) -> list[Problem]:
    return [
        problem
        for text in texts
        for problem in mark_problems(text.source, extends=text.extends is not None)
    ]
