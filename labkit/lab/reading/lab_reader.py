"""A source read into a `Lab`: its header, and by `BodyReader` its body."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import combinations
from typing import Any, TypeVar

from labkit.doors import installed
from labkit.doors.family import FIRST_FAMILY
from labkit.doors.network import NetworkRecipe, SaysUnits
from labkit.lab.definition import (
    NETWORK,
    Constant,
    Difficulty,
    Lab,
    Parameter,
    Rule,
    Scene,
)
from labkit.lab.reading.body_reader import BodyPart, BodyReader
from labkit.lab.reading.drawing import read_parameter, read_row
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import DrawFields, HeaderFields, check_fields
from labkit.lab.reading.in_part import Broken, ReadInPart
from labkit.lab.reading.out_of_reach import OutOfReach
from labkit.lab.reading.source import Source
from labkit.lab.reading.stated import read_accepted, read_constant, read_difficulty
from labkit.language.expression import RESERVED, Beyond, Formula, Language, Prose
from labkit.language.markdown import plain
from labkit.language.near import near
from labkit.language.problems import DefinitionError, Place, Problem, definition_error, nearest
from labkit.language.quantity import Unit, unit_named
from labkit.language.row_fields import OfTable
from labkit.language.tables import TABLE_FUNCTIONS, Table

_T = TypeVar("_T")


def reader_of_source(
    source: Source,
    digests: tuple[str, str],
    extends: tuple[str, ...],
    pictures: Mapping[str, str],
    tables: Mapping[str, Table] | None = None,
    *,
    dealt: bool = False,
) -> LabReader:
    """The reader of one source; `digests` are that of all files and that of the texts alone.

    Raises `DefinitionError` where the header's fields cannot be read.
    """
    header: HeaderFields = check_fields(HeaderFields, source.header)
    if header.leave_out is not None and not extends:
        raise definition_error(
            source.header.place(("leave out",)),
            "there is nothing to leave out of: this lab extends no other.",
            "Add 'extends:' with the name of the other lab's folder.",
        )
    # Of the tables of labs that are extended only those that are not left out.
    kept = {name: table for name, table in (tables or {}).items() if name in header.tables}
    return LabReader(source, header, digests, extends, pictures, kept, dealt)


@dataclass(slots=True)
class LabReader:
    """Reads one source; all that is wrong gathers in `problems`."""

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
        language.units |= self._units()
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
        body = (*self._body(language, known), *_sources_of_tables(read))
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

    def _units(self) -> dict[str, Unit]:
        """In which unit functions of the lab's network give their value, where they say so."""
        if self.header.network is None:
            return {}
        family = installed.network_for(self._family_name)
        said = family.units if isinstance(family, SaysUnits) else {}
        return {name: unit_named(symbol) for name, symbol in said.items()}

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

    def _body(self, language: Language, known: frozenset[str]) -> tuple[BodyPart, ...]:
        reader = BodyReader(
            language,
            known,
            beyond=self._reach.anywhere,
            family=self._family_name,
            has_network=self.header.network is not None,
            recipe=self.recipe,
            dealt=self.dealt,
            problems=self.problems,
            broken=self.broken,
        )
        return reader.read(self.source.parts)


def _sources_of_tables(tables: Mapping[str, Table]) -> Iterator[Prose]:
    """Where the values of tables come from, for whoever reads the lab to its end."""
    if tables:
        sources = [f"- {plain(name)}: {plain(each.source)}" for name, each in tables.items()]
        text = "\n".join(["Where the values of tables come from:\n", *sources])
        yield Prose(text, frozenset(), next(iter(tables.values())).place, None)
