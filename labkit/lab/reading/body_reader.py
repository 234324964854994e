"""The body of a lab file read: texts, exercises and pictures, each problem at its place."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from labkit.doors import installed
from labkit.doors.installed import reader_for
from labkit.doors.network import NetworkRecipe
from labkit.doors.prepared import Preparer
from labkit.lab.definition import Exercise, Hint, Picture
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Strict, check_fields, id_like, meant
from labkit.lab.reading.in_part import Broken
from labkit.lab.reading.sections import without_marks
from labkit.lab.reading.source import BlockPart, ProsePart
from labkit.lab.reading.stated import read_accepted
from labkit.lab.reading.taken_line import names_exercise
from labkit.language.expression import Beyond, Formula, Language, Prose
from labkit.language.problems import DefinitionError, Problem, definition_error, nearest

_ID: Final = re.compile(r"[a-z0-9][a-z0-9-]{0,59}")

BodyPart = Prose | Exercise | Picture


class _Nothing(Strict):
    """A block without fields."""


@dataclass(frozen=True, slots=True)
class BodyReader:
    """Reads the parts of a body, in whose texts and formulas the names `known` can stand.

    What is wrong is added to `problems`, an exercise that cannot be read to `broken` too. `family`
    is that of the lab's network, or the first one; `recipe` is None where the lab has no network
    or one that cannot be read.
    """

    language: Language
    known: frozenset[str]
    beyond: Beyond
    family: str
    has_network: bool
    recipe: NetworkRecipe | None
    dealt: bool
    problems: list[Problem]
    broken: list[Broken]

    def read(self, parts: Sequence[ProsePart | BlockPart]) -> tuple[BodyPart, ...]:
        """All parts that can be read, in their order."""
        body: list[BodyPart] = []
        for part in parts:
            try:
                body.append(self._part(part))
            except DefinitionError as error:
                self.problems.extend(error.problems)
                if isinstance(part, BlockPart) and part.word != "picture":
                    self.broken.append(Broken.of(part, len(body), error.problems))
        self._check_ids([part for part in body if isinstance(part, Exercise)])
        return tuple(body)

    def _part(self, part: ProsePart | BlockPart) -> BodyPart:
        if isinstance(part, ProsePart):
            return self._prose(part)
        if part.problems:
            raise DefinitionError(part.problems)
        return self._picture(part) if part.word == "picture" else self._exercise(part)

    def _prose(self, part: ProsePart) -> Prose:
        words = without_marks(part.text)
        text = self.language.prose(words, part.place, self.known, self.beyond)
        self._refuse_lone_braces([text])
        return text

    def _picture(self, part: BlockPart) -> Picture:
        if not self.has_network:
            mend = "Describe one under 'network:' in the header."
            raise definition_error(part.place, "a picture needs a network.", mend)
        check_fields(_Nothing, part.fields, "picture: ")
        return Picture(part.place)

    def _exercise(self, part: BlockPart) -> Exercise:
        label = f"exercise '{part.name}': "
        kind = _kind_of(part, label)
        kind_reader = reader_for(kind)
        fields: ExerciseFields = check_fields(kind_reader.fields, part.fields, label)
        reader = FieldReader(
            part.fields,
            self.language,
            self.known,
            label,
            family=self.family,
            recipe=self.recipe,
            beyond=self.beyond,
        )
        hints = tuple(
            Hint(reader.prose(hint.text, "hints", index, "text"), hint.costs)
            for index, hint in enumerate(fields.hints)
        )
        prepare: Preparer = kind_reader.read(fields, reader)
        title = reader.prose(fields.title, "title")
        question = reader.prose(fields.question, "question")
        working = reader.prose(fields.working, "working")
        self._refuse_lone_braces(reader.texts)
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

    def _refuse_lone_braces(self, texts: Iterable[Formula | Prose]) -> None:
        """A name in single braces is text, which no author means; what was dealt stays as it is."""
        for text in texts if not self.dealt else ():
            problem = text.lone_braces(self.known) if isinstance(text, Prose) else None
            if problem:
                self.problems.append(problem)

    def _check_ids(self, exercises: list[Exercise]) -> None:
        first: dict[str, Exercise] = {}
        for exercise in exercises:
            earlier = first.setdefault(exercise.id, exercise)
            if earlier is not exercise:
                told = f"the exercise '{exercise.id}' is there already (line {earlier.place.line})."
                mend = "Give each exercise its own id."
                self.problems.append(Problem(exercise.place, told, mend))


def _kind_of(part: BlockPart, label: str) -> str:
    """The kind that the exercise names. Raises `DefinitionError` where it has no id or no kind."""
    kinds = installed.kinds()
    if not _ID.fullmatch(part.name):
        told = f"'{part.name}' is no id of an exercise." if part.name else "the exercise has no id."
        like = id_like(part.name) or "longest-distance"
        mend = f"Write one of small letters, digits and '-': ```exercise {like}"
        raise definition_error(part.place, told, mend)
    kind = part.fields.data.get("kind")
    if not isinstance(kind, str) or kind not in kinds:
        place = part.fields.place(("kind",), label)
        raise definition_error(place, *_no_kind(part.fields.data, kinds))
    return kind


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
