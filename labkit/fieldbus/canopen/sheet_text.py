"""The text of an electronic data sheet in sections and keys, each with its line (CiA 306).

`[section]`, `key=value`, and comments behind a semicolon. Names of sections and keys are read in
either case.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

from labkit.fieldbus.errors import PlanError

_SECTION: Final = re.compile(r"\[([^\[\]]+)\]")
_COMMENT: Final = re.compile(r"(?:^|\s);.*")


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong in a data sheet: its line, counted from 1, and a sentence with its mend."""

    line: int
    sentence: str

    def __str__(self) -> str:
        return f"Line {self.line}: {self.sentence}"


class DataSheetError(PlanError):
    """A data sheet that cannot be read; `problems` are all that were found, in order of lines."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = problems


@dataclass(frozen=True, slots=True)
class Value:
    """What stands behind a key, and in which line."""

    text: str
    line: int


@dataclass(slots=True)
class Section:
    """A section: its name as written, its line, its values by key in lower case."""

    name: str
    line: int
    values: dict[str, Value] = field(default_factory=dict)

    def get(self, key: str) -> Value | None:
        """The value of a key, None where it is missing or empty."""
        found = self.values.get(key.lower())
        return found if found and found.text else None


def split_sections(text: str) -> tuple[Mapping[str, Section], tuple[Problem, ...]]:
    """The sections by name in lower case, and what could not be read."""
    sections: dict[str, Section] = {}
    problems: list[Problem] = []
    open_section: Section | None = None
    for number, written in _lines(text):
        heading = _SECTION.fullmatch(written)
        if heading:
            open_section = Section(heading[1].strip(), number)
            earlier = sections.setdefault(open_section.name.lower(), open_section)
            if earlier is not open_section:
                again = f"section [{earlier.name}] is there already, from line {earlier.line} on"
                problems.append(Problem(number, f"{again}; put the two together."))
            continue
        key, equals, value = (part.strip() for part in written.partition("="))
        if not equals or not key:
            sentence = f"{written[:40]!r} is neither [section] nor key=value; correct or delete it."
            problems.append(Problem(number, sentence))
        elif open_section is None:
            problems.append(Problem(number, f"{key} stands before the first [section]; move it."))
        elif key.lower() in open_section.values:
            line = open_section.values[key.lower()].line
            sentence = f"{key} is there already in [{open_section.name}], in line {line}; keep one."
            problems.append(Problem(number, sentence))
        else:
            open_section.values[key.lower()] = Value(value, number)
    return sections, tuple(problems)


def _lines(text: str) -> Iterator[tuple[int, str]]:
    """Lines that say something, with their numbers, comments taken off."""
    for number, line in enumerate(text.removeprefix("\ufeff").split("\n"), start=1):
        said = _COMMENT.sub("", line).strip()
        if said:
            yield number, said
