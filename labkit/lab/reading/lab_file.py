"""A lab file read into a `Lab`, with every problem found told at once."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any, Final, TypeVar

from labkit.lab import plugins
from labkit.lab.definition import (
    NETWORK,
    Exercise,
    Hint,
    Lab,
    NetworkRecipe,
    Parameter,
    Picture,
    Preparer,
    Rule,
)
from labkit.lab.expression import RESERVED, Formula, Language, Prose
from labkit.lab.problems import DefinitionError, Place, Problem, nearest
from labkit.lab.reading.drawing import read_parameter
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, HeaderFields, Strict, check_fields
from labkit.lab.reading.kinds import reader_for
from labkit.lab.reading.source import BlockPart, ProsePart, Source, read_source

_T = TypeVar("_T")
_ID: Final = re.compile(r"[a-z0-9][a-z0-9-]{0,59}")


class _Nothing(Strict):
    """A block without fields."""


def read_lab(path: Path) -> Lab:
    """Read the definition in the file at `path`.

    Raises `DefinitionError`, which lists every problem with its file, line, field and a mend; also
    when the file is missing or is not text.
    """
    shown = path.name if path.parent.name in ("", ".") else f"{path.parent.name}/{path.name}"
    try:
        data = path.read_bytes()
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        raise DefinitionError([Problem(Place(str(path), 1), f"{reason}.")]) from error
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise DefinitionError(
            [Problem(Place(shown, line), "this is not UTF-8 text.", "Save the file as UTF-8.")]
        ) from error
    return read_lab_text(text, shown)


def read_lab_text(text: str, file: str = "lab.md") -> Lab:
    """Read a definition from its text; `file` is the name that problems carry."""
    source = read_source(text, file)
    header: HeaderFields = check_fields(HeaderFields, source.header)
    return _LabReader(
        source, header, sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
    ).read()


@dataclass(slots=True)
class _LabReader:
    source: Source
    header: HeaderFields
    digest: str
    problems: list[Problem] = field(default_factory=list)

    def read(self) -> Lab:
        functions, make_recipe = self._family()
        language = Language(functions)
        drawn = self._names(language)
        parameters = self._parameters(language)
        derived, late = self._derived(language, drawn)
        recipe = None
        if make_recipe:
            early = frozenset({*drawn, *self.header.let}) - late
            recipe = self._kept(lambda: make_recipe(self._reader(language, early)))
        known = frozenset({*drawn, *self.header.let, *([NETWORK] if make_recipe else [])})
        rules = self._rules(self._reader(language, known))
        body = self._body(language, known)
        lab = Lab(
            id=self.header.id,
            version=self.header.version,
            title=self.header.title,
            summary=self.header.summary,
            minutes=self.header.minutes,
            digest=self.digest,
            language=language,
            parameters=parameters,
            derived=derived,
            network=recipe,
            rules=rules,
            body=body,
            place=Place(self.source.file, 1),
        )
        if not lab.exercises and not self.problems:
            self.problems.append(
                Problem(lab.place, "the lab has no exercise.", "Add a block ```exercise its-id.")
            )
        if self.problems:
            raise DefinitionError(sorted(self.problems, key=lambda problem: problem.place.line))
        return lab

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

    def _reader(self, language: Language, known: frozenset[str]) -> FieldReader:
        return FieldReader(self.source.header, language, known)

    def _problem(self, message: str, mend: str, *path: str | int) -> None:
        self.problems.append(Problem(self.source.header.place(path), message, mend))

    def _family(self) -> tuple[dict[str, Any], Callable[[FieldReader], NetworkRecipe] | None]:
        network = self.header.network
        if network is None:
            return {}, None
        name = network.get("family")
        families = plugins.names(plugins.NETWORKS)
        if not isinstance(name, str) or name not in families:
            self._problem(
                f"'{name}' is not a network family." if name else "is missing.",
                nearest(str(name or ""), families),
                *("network", "family"),
            )
            return {}, None
        family = plugins.load(plugins.NETWORKS, name)()
        return family.functions, lambda reader: family.recipe(network, reader)

    def _names(self, language: Language) -> list[str]:
        names = [*self.header.draw, *self.header.let]
        for name in self.header.let:
            if name in self.header.draw:
                self._problem("is drawn above already.", "Choose another name.", "let", name)
        for name in names:
            if name in language.functions or name in {NETWORK, *RESERVED}:
                section = "draw" if name in self.header.draw else "let"
                self._problem(
                    "is a name that is already in use.", "Choose another name.", section, name
                )
        return list(self.header.draw)

    def _parameters(self, language: Language) -> tuple[Parameter, ...]:
        parameters = []
        for index, (name, fields) in enumerate(self.header.draw.items()):
            earlier = frozenset(list(self.header.draw)[:index])
            reader = self._reader(language, earlier)
            parameter = self._kept(lambda n=name, f=fields, r=reader: read_parameter(n, f, r))  # type: ignore[misc]
            if parameter:
                parameters.append(parameter)
        return tuple(parameters)

    def _derived(
        self, language: Language, drawn: list[str]
    ) -> tuple[dict[str, Formula], frozenset[str]]:
        """The `let` formulas, and those of their names that the network itself cannot use."""
        derived: dict[str, Formula] = {}
        late = {NETWORK}
        known = {*drawn, *([NETWORK] if self.header.network is not None else [])}
        for name, text in self.header.let.items():
            reader = self._reader(language, frozenset(known))
            with self._collecting():
                derived[name] = reader.formula(text, "let", name)
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
            with self._collecting():
                if isinstance(part, ProsePart):
                    body.append(language.prose(part.text, part.place, known))
                elif part.word == "picture":
                    body.append(self._picture(part))
                else:
                    body.append(self._exercise(part, language, known))
        self._check_ids([part for part in body if isinstance(part, Exercise)])
        return tuple(body)

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
        kinds = plugins.names(plugins.READERS)
        kind = part.fields.data.get("kind")
        if not _ID.fullmatch(part.name):
            raise DefinitionError(
                [
                    Problem(
                        part.place,
                        "the exercise has no usable id."
                        if part.name
                        else "the exercise has no id.",
                        "Write one of small letters, digits and '-': ```exercise longest-distance",
                    )
                ]
            )
        if not isinstance(kind, str) or kind not in kinds:
            place = part.fields.place(("kind",), label)
            message = f"'{kind}' is not an exercise kind." if kind else "is missing."
            raise DefinitionError([Problem(place, message, nearest(str(kind or ""), kinds))])
        kind_reader = reader_for(kind)
        fields: ExerciseFields = check_fields(kind_reader.fields, part.fields, label)
        reader = FieldReader(part.fields, language, known, label)
        hints = tuple(
            Hint(reader.prose(hint.text, "hints", index, "text"), hint.costs)
            for index, hint in enumerate(fields.hints)
        )
        prepare: Preparer = kind_reader.read(fields, reader)
        return Exercise(
            id=part.name,
            kind=kind,
            title=reader.prose(fields.title, "title"),
            question=reader.prose(fields.question, "question"),
            marks=fields.marks,
            hints=hints,
            working=reader.prose(fields.working, "working"),
            prepare=prepare,
            place=part.place,
        )

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
