"""A lab file read into a `Lab`, with every problem found told at once."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from itertools import combinations
from pathlib import Path
from typing import Any, Final, TypeVar

from labkit.doors import installed
from labkit.doors.family import FIRST_FAMILY
from labkit.doors.installed import reader_for
from labkit.doors.network import NetworkRecipe
from labkit.doors.prepared import Preparer
from labkit.lab.definition import (
    NETWORK,
    Constant,
    Difficulty,
    Exercise,
    Hint,
    Lab,
    Parameter,
    Picture,
    Rule,
    Scene,
)
from labkit.lab.reading.drawing import read_parameter, read_row
from labkit.lab.reading.extending import extended
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import (
    DrawFields,
    ExerciseFields,
    HeaderFields,
    Strict,
    check_fields,
    id_like,
    meant,
)
from labkit.lab.reading.in_part import Broken, ReadInPart
from labkit.lab.reading.lineage import (
    DefinitionText,
    TakenFrom,
    cannot_be_read,
    digest_of,
    digest_with_pictures,
    lineage,
    with_taken,
)
from labkit.lab.reading.out_of_reach import OutOfReach
from labkit.lab.reading.pictures import Pictures
from labkit.lab.reading.sections import mark_problems, without_marks
from labkit.lab.reading.source import BlockPart, ProsePart, Source, read_source
from labkit.lab.reading.stated import read_accepted, read_constant, read_difficulty
from labkit.lab.reading.table_file import problems_of, tables_of
from labkit.lab.reading.taken_line import is_taken, names_exercise, place_of
from labkit.lab.reading.taking import BankLab, WithTaken, with_exercises
from labkit.language.expression import RESERVED, Beyond, Formula, Language, Prose
from labkit.language.markdown import plain
from labkit.language.near import near
from labkit.language.problems import DefinitionError, Place, Problem, definition_error, nearest
from labkit.language.row_fields import OfTable
from labkit.language.tables import TABLE_FUNCTIONS, Table

_T = TypeVar("_T")
_ID: Final = re.compile(r"[a-z0-9][a-z0-9-]{0,59}")


class _Nothing(Strict):
    """A block without fields."""


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
) -> _LabReader:
    return _Bank(dealt).reader_of(texts, pictures=pictures)


@dataclass(slots=True)
class _Bank:
    """Labs that exercises are taken from, each read once."""

    dealt: bool
    read: dict[Path, BankLab] = field(default_factory=dict)

    def reader_of(self, texts: Sequence[DefinitionText], *, pictures: bool) -> _LabReader:
        """The reader of the lab that these files make; none of its exercises is to be taken yet."""
        every = with_taken(texts)
        whole = self._together(texts)
        digests = digest_with_pictures(every), digest_of([text.text for text in every])
        shown = {each.token: each.uri for text in every for each in text.pictures if pictures}
        reader = _reader(
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
    return _reader(source, (digest, digest), (), {}).read()


def _mark_problems(texts: Iterable[DefinitionText]) -> list[Problem]:
    return [
        problem
        for text in texts
        for problem in mark_problems(text.source, extends=text.extends is not None)
    ]


def _reader(
    source: Source,
    digests: tuple[str, str],
    extends: tuple[str, ...],
    pictures: Mapping[str, str],
    tables: Mapping[str, Table] | None = None,
    *,
    dealt: bool = False,
) -> _LabReader:
    header: HeaderFields = check_fields(HeaderFields, source.header)
    if header.leave_out is not None and not extends:
        raise definition_error(
            source.header.place(("leave out",)),
            "there is nothing to leave out of: this lab extends no other.",
            "Add 'extends:' with the name of the other lab's folder.",
        )
    # Of the tables of labs that are extended only those that are not left out.
    kept = {name: table for name, table in (tables or {}).items() if name in header.tables}
    return _LabReader(source, header, digests, extends, pictures, kept, dealt)


@dataclass(slots=True)
class _LabReader:
    source: Source
    header: HeaderFields
    digests: tuple[str, str]
    extends: tuple[str, ...]
    pictures: Mapping[str, str]
    tables: Mapping[str, Table]
    dealt: bool = False
    problems: list[Problem] = field(default_factory=list)
    texts: list[Formula | Prose] = field(default_factory=list)
    broken: list[Broken] = field(default_factory=list)
    takes_from: tuple[str, ...] = ()
    of_header: list[Problem] = field(default_factory=list)
    recipe: NetworkRecipe | None = None

    def read(self) -> Lab:
        """The lab. Raises `DefinitionError` with all that is wrong."""
        lab = self._all_of_it()
        if self.problems:
            raise DefinitionError(sorted(self.problems, key=self._order))
        return lab

    def read_in_part(self) -> ReadInPart:
        """As much of the lab as can be read."""
        lab = self._kept(self._all_of_it)
        problems = tuple(sorted(self.problems, key=self._order))
        return ReadInPart(None if self.of_header else lab, problems, tuple(self.broken))

    def _all_of_it(self) -> Lab:
        before = len(self.problems)
        functions, make_recipe = self._family()
        scenery = {name: " ".join(text.split()) for name, text in self.header.scenery.items()}
        if self.tables:
            functions |= TABLE_FUNCTIONS
        language = Language(functions, scenery, self.pictures)
        read = {name: table for name, table in self.tables.items() if not table.problems}
        language.shapes |= {name: OfTable(table) for name, table in read.items()}
        drawn = self._names(language)
        constants = self._constants(language)
        parameters = self._parameters(language)
        derived, late = self._derived(language, drawn)
        if make_recipe:
            early = frozenset({*drawn, *self._given, *self.header.let}) - late
            reader = self._reader(language, early, self._reach.in_network(late))
            self.recipe = self._kept(lambda: make_recipe(reader))
        own = {*drawn, *self._given, *self.header.let}
        known = frozenset({*own, *([NETWORK] if make_recipe else [])})
        rules = self._rules(self._reader(language, known))
        difficulty = self._difficulty(self._reader(language, known))
        self.of_header = self.problems[before:]
        body = (*self._body(language, known), *self._sources_of_tables(read))
        lab = Lab(
            id=self.header.id,
            version=self.header.version,
            title=self._words_alone(language, "title"),
            summary=self._words_alone(language, "summary"),
            minutes=self.header.minutes,
            digest=self.digests[0],
            text_digest=self.digests[1],
            language=language,
            parameters=parameters,
            derived=derived,
            network=self.recipe,
            rules=rules,
            body=body,
            place=Place(self.source.file, 1),
            constants=constants,
            scenery=self._scenes(language),
            tables=self.tables,
            difficulty=difficulty,
            texts=tuple(text for text in self.texts if isinstance(text, Formula)),
            extends=self.extends,
            takes_from=self.takes_from,
            remarks=self.source.remarks,
            accepted=read_accepted(
                self.header.accepted, lambda index: self.source.header.place(("accepted", index))
            ),
        )
        if not lab.exercises and not self.problems:
            self.problems.append(
                Problem(lab.place, "the lab has no exercise.", "Add a block ```exercise its-id.")
            )
        return lab

    def _order(self, problem: Problem) -> tuple[bool, str, int]:
        place = problem.place
        return place.file != self.source.file, place.file, place.line

    @contextmanager
    def _collecting(self) -> Iterator[None]:
        try:
            yield
        except DefinitionError as error:
            self.problems.extend(error.problems)

    def _kept(self, read: Callable[[], _T]) -> _T | None:
        with self._collecting():
            return read()
        return None

    @property
    def _given(self) -> frozenset[str]:
        """Names that no chance decides: values of books, and tables."""
        return frozenset({*self.header.sources, *self.header.tables})

    @property
    def _reach(self) -> OutOfReach:
        return OutOfReach(self.header, self.source.header.place)

    def _reader(
        self, language: Language, known: frozenset[str], beyond: Beyond | None = None
    ) -> FieldReader:
        return FieldReader(
            self.source.header,
            language,
            known,
            texts=self.texts,
            beyond=beyond or self._reach.anywhere,
        )

    def _problem(self, message: str, mend: str, *path: str | int) -> None:
        self.problems.append(Problem(self.source.header.place(path), message, mend))

    def _family(self) -> tuple[dict[str, Any], Callable[[FieldReader], NetworkRecipe] | None]:
        network = self.header.network
        if network is None:
            return {}, None
        name = network.get("family")
        families = installed.families()
        if not isinstance(name, str) or name not in families:
            # Without its family nearly every formula would be wrong: that is one mistake.
            raise definition_error(
                self.source.header.place(("network", "family")),
                f"'{name}' is not a network family." if name else "is missing.",
                nearest(str(name or ""), families),
            )
        family = installed.network_for(name)
        return dict(family.functions), lambda reader: family.recipe(network, reader)

    @property
    def _family_name(self) -> str:
        """The family of the lab's network; the first one where it has none."""
        name = (self.header.network or {}).get("family")
        return name if isinstance(name, str) and name in installed.families() else FIRST_FAMILY

    def _names(self, language: Language) -> list[str]:
        groups: dict[str, Mapping[str, Any]] = {
            "scenery": self.header.scenery,
            "tables": self.header.tables,
            "draw": self.header.draw,
            "sources": self.header.sources,
            "let": self.header.let,
        }
        told = {
            "scenery": "is there under 'scenery' already.",
            "tables": "is there under 'tables' already.",
            "draw": "is drawn above already.",
            "sources": "is there under 'sources' already.",
        }
        for earlier, later in combinations(groups, 2):
            for name in groups[later]:
                if name in groups[earlier]:
                    self._problem(told[earlier], "Choose another name.", later, name)
        for section, names in groups.items():
            for name in names:
                if language.taken(name) or name in {NETWORK, *RESERVED}:
                    self._problem(
                        "is a name that is already in use.", "Choose another name.", section, name
                    )
        return list(self.header.draw)

    def _words_alone(self, language: Language, name: str) -> str:
        """A text of the header, in which only names of the scenery can stand."""
        text = language.words(str(getattr(self.header, name)))
        own = {*self.header.draw, *self.header.sources, *self.header.let}
        for shown in re.findall(r"\{\{\s*(\w+)\s*\}\}", text) if language.scenery else []:
            # Other braces are what the author wants them to be.
            if shown in own or near(shown, language.scenery):
                mend = f"Known here: {', '.join(language.scenery)}."
                self._problem(f"'{{{{ {shown} }}}}' is worked out nowhere.", mend, name)
        return text

    def _scenes(self, language: Language) -> tuple[Scene, ...]:
        place = self.source.header.place
        return tuple(
            Scene(name, text, place(("scenery", name))) for name, text in language.scenery.items()
        )

    def _constants(self, language: Language) -> dict[str, Constant]:
        reader = self._reader(language, frozenset())
        constants = {}
        for name, fields in self.header.sources.items():
            with self._collecting():
                constants[name] = read_constant(name, fields, reader)
        return constants

    def _difficulty(self, reader: FieldReader) -> Difficulty | None:
        fields = self.header.difficulty
        return self._kept(lambda: read_difficulty(fields, reader)) if fields else None

    def _parameters(self, language: Language) -> tuple[Parameter, ...]:
        parameters = []
        for index, (name, fields) in enumerate(self.header.draw.items()):
            earlier = frozenset({*self._given, *list(self.header.draw)[:index]})
            reader = self._reader(language, earlier, self._reach.in_draw(name))
            parameter = self._kept(lambda n=name, f=fields, r=reader: self._parameter(n, f, r))  # type: ignore[misc]
            if parameter:
                parameters.append(parameter)
        return tuple(parameters)

    def _parameter(self, name: str, fields: DrawFields, reader: FieldReader) -> Parameter:
        if fields.row_of is None:
            return read_parameter(name, fields, reader)
        return read_row(name, fields, reader, self.tables, self._sources_alone(reader))

    def _sources_alone(self, reader: FieldReader) -> dict[str, float]:
        """The values of books: all that a condition on rows knows beside the row."""
        fields = self.header.sources
        return {name: read_constant(name, fields[name], reader).value for name in fields}

    def _derived(
        self, language: Language, drawn: list[str]
    ) -> tuple[dict[str, Formula], frozenset[str]]:
        """The `let` formulas, and those of their names that the network itself cannot use."""
        derived: dict[str, Formula] = {}
        late = {NETWORK}
        network = [NETWORK] if self.header.network is not None else []
        known = {*drawn, *self._given, *network}
        for name, text in self.header.let.items():
            reader = self._reader(language, frozenset(known), self._reach.in_let(name))
            with self._collecting():
                derived[name] = reader.formula(text, "let", name)
                if shape := derived[name].shape:
                    language.shapes[name] = shape
                if derived[name].names & late:
                    late.add(name)
            known.add(name)
        return derived, frozenset(late)

    def _rules(self, reader: FieldReader) -> tuple[Rule, ...]:
        rules = []
        for index, fields in enumerate(self.header.valid):
            with self._collecting():
                formula = reader.formula(fields.rule, "valid", index, "rule")
                rules.append(Rule(formula, fields.because))
        return tuple(rules)

    def _body(
        self, language: Language, known: frozenset[str]
    ) -> tuple[Prose | Exercise | Picture, ...]:
        body: list[Prose | Exercise | Picture] = []
        for part in self.source.parts:
            try:
                if isinstance(part, BlockPart) and part.problems:
                    raise DefinitionError(part.problems)
                if isinstance(part, ProsePart):
                    words = without_marks(part.text)
                    text = language.prose(words, part.place, known, self._reach.anywhere)
                    self._refuse_lone_braces([text], known)
                    body.append(text)
                elif part.word == "picture":
                    body.append(self._picture(part))
                else:
                    body.append(self._exercise(part, language, known))
            except DefinitionError as error:
                self.problems.extend(error.problems)
                if isinstance(part, BlockPart) and part.word != "picture":
                    self.broken.append(Broken.of(part, len(body), error.problems))
        self._check_ids([part for part in body if isinstance(part, Exercise)])
        return tuple(body)

    def _sources_of_tables(self, tables: Mapping[str, Table]) -> Iterator[Prose]:
        """Where the values of tables come from, for whoever reads the lab to its end."""
        if tables:
            sources = [f"- {plain(name)}: {plain(each.source)}" for name, each in tables.items()]
            text = "\n".join(["Where the values of tables come from:\n", *sources])
            yield Prose(text, frozenset(), next(iter(tables.values())).place, None)

    def _picture(self, part: BlockPart) -> Picture:
        if self.header.network is None:
            raise DefinitionError(
                [
                    Problem(
                        part.place,
                        "a picture needs a network.",
                        "Describe one under 'network:' in the header.",
                    )
                ]
            )
        check_fields(_Nothing, part.fields, "picture: ")
        return Picture(part.place)

    def _exercise(self, part: BlockPart, language: Language, known: frozenset[str]) -> Exercise:
        label = f"exercise '{part.name}': "
        kinds = installed.kinds()
        kind = part.fields.data.get("kind")
        if not _ID.fullmatch(part.name):
            raise DefinitionError(
                [
                    Problem(
                        part.place,
                        f"'{part.name}' is no id of an exercise."
                        if part.name
                        else "the exercise has no id.",
                        "Write one of small letters, digits and '-': ```exercise "
                        f"{id_like(part.name) or 'longest-distance'}",
                    )
                ]
            )
        if not isinstance(kind, str) or kind not in kinds:
            place = part.fields.place(("kind",), label)
            raise DefinitionError([Problem(place, *_no_kind(part.fields.data, kinds))])
        kind_reader = reader_for(kind)
        fields: ExerciseFields = check_fields(kind_reader.fields, part.fields, label)
        reader = FieldReader(
            part.fields,
            language,
            known,
            label,
            family=self._family_name,
            recipe=self.recipe,
            beyond=self._reach.anywhere,
        )
        hints = tuple(
            Hint(reader.prose(hint.text, "hints", index, "text"), hint.costs)
            for index, hint in enumerate(fields.hints)
        )
        prepare: Preparer = kind_reader.read(fields, reader)
        title = reader.prose(fields.title, "title")
        question = reader.prose(fields.question, "question")
        working = reader.prose(fields.working, "working")
        self._refuse_lone_braces(reader.texts, known)
        return Exercise(
            id=part.name,
            kind=kind,
            title=title,
            question=question,
            marks=fields.marks,
            hints=hints,
            working=working,
            prepare=prepare,
            place=part.place,
            texts=tuple(reader.texts),
            data=part.fields.data,
            where=lambda path: part.fields.place(path, label),
            accepted=read_accepted(
                fields.accepted, lambda index: reader.place("accepted", index), part.name
            ),
            taken=part.taken,
            topic=" ".join(fields.topic.split()),
        )

    def _refuse_lone_braces(self, texts: Iterable[Formula | Prose], known: frozenset[str]) -> None:
        """A name in single braces is text, which no author means; what was dealt stays as it is."""
        for text in texts if not self.dealt else ():
            problem = text.lone_braces(known) if isinstance(text, Prose) else None
            if problem:
                self.problems.append(problem)

    def _check_ids(self, exercises: list[Exercise]) -> None:
        first: dict[str, Exercise] = {}
        for exercise in exercises:
            if exercise.id in first:
                self.problems.append(
                    Problem(
                        exercise.place,
                        f"the exercise '{exercise.id}' is there already "
                        f"(line {first[exercise.id].place.line}).",
                        "Give each exercise its own id.",
                    )
                )
            first.setdefault(exercise.id, exercise)


def _no_kind(data: Mapping[str, Any], kinds: Iterable[str]) -> tuple[str, str]:
    """What to tell where an exercise has no kind, or one that nobody knows."""
    written = data.get("kind")
    if written:
        return f"'{written}' is not an exercise kind.", nearest(str(written), kinds)
    if source := next((name for name in data if names_exercise(data[name])), ""):
        return "is missing.", f"To take an exercise from there, write 'from: {data[source]}'."
    other = next((name for name in data if meant(name, ["kind"])), "")
    if other:
        return "is missing.", f"Write 'kind: {data[other]}', not '{other}'."
    return "is missing.", f"Add a line 'kind: …' with one of: {', '.join(sorted(kinds))}."
