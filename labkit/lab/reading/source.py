"""A lab file taken apart: YAML header, prose, exercise blocks, each with its line numbers."""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any, Final

import yaml
from markdown_it import MarkdownIt
from markdown_it.token import Token

from labkit.lab.definition import Remark, Taken
from labkit.lab.reading.misread import braces_as_value, misread_field, misread_name, misread_value
from labkit.lab.reading.mistyped_lines import mistyped
from labkit.lab.reading.stray_exercises import (
    BLOCK_WORDS,
    Stray,
    slid_fields,
    stray_exercises,
)
from labkit.language.problems import DefinitionError, Place, Problem, definition_error

MAX_DEFINITION: Final = 1_000_000
MAX_DEPTH: Final = 20
MAX_BRACKETS: Final = 3_000
"""In one file, and in one text: Markdown looks for the end of each '['. A lab has hundreds."""

Path = tuple[str | int, ...]
_BEGINS: Final = re.compile(rf"(?:`{{3,}}|~{{3,}})\s*(?:{'|'.join(BLOCK_WORDS)})\b")


@dataclass(frozen=True, slots=True)
class Fields:
    """YAML data in which every scalar is text, and the line of each field in the file.

    Where a lab extends another, `origins` leads from a path of the fields put together to the
    fields of one file and the path there.
    """

    data: dict[str, Any]
    file: str
    line: int
    lines: Mapping[Path, int]
    origins: Mapping[Path, tuple[Fields, Path]] = field(default_factory=dict)

    def place(self, path: Path, label: str = "") -> Place:
        """Where the field at `path` stands; the nearest field around it when it is missing."""
        for end in range(len(path), -1, -1):
            if path[:end] in self.origins:
                fields, start = self.origins[path[:end]]
                return fields.place((*start, *path[end:]), label)
        known = path
        while known and known not in self.lines:
            known = known[:-1]
        name = " → ".join(_step(step) for step in path)
        return Place(self.file, self.lines.get(known, self.line), label + name)

    def inside(self, name: str) -> Fields:
        """The group of fields below the field `name`, with its lines."""
        lines = {path[1:]: line for path, line in self.lines.items() if path[:1] == (name,)}
        origins = {
            path[1:]: (fields.inside(name), start[1:])
            for path, (fields, start) in self.origins.items()
            if path[:1] == (name,)
        }
        return Fields(self.data[name], self.file, lines.get((), self.line), lines, origins)


@dataclass(frozen=True, slots=True)
class ProsePart:
    """Markdown between two exercises."""

    text: str
    place: Place


@dataclass(frozen=True, slots=True)
class BlockPart:
    """A fenced block: its first word, its name and its fields; its last line ends it."""

    word: str
    name: str
    fields: Fields
    place: Place
    problems: tuple[Problem, ...] = ()
    """Why it cannot be read: its fields, or the exercise that it is taken from."""
    last: int = 0
    taken: Taken | None = None


@dataclass(frozen=True, slots=True)
class Source:
    """The parts of a definition in the order of the file, and what was remarked on the way.

    `strays` is what is wrong below the header, where the definition is read in part: text that is
    nearly an exercise, and pictures.
    """

    file: str
    header: Fields
    parts: tuple[ProsePart | BlockPart, ...]
    remarks: tuple[Remark, ...] = ()
    strays: tuple[Problem, ...] = ()


@dataclass(slots=True)
class _Walk:
    file: str
    first_line: int
    text: str
    careful: bool = False
    lines: dict[Path, int] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    seen: set[int] = field(default_factory=set)


def read_source(text: str, file: str, *, dealt: bool = False, in_part: bool = False) -> Source:
    """Take a definition apart. Raises `DefinitionError` with file, line and a mend.

    Text that is nearly an exercise is refused, but not where the definition was `dealt`: there it
    stands in the workbooks already, and the class goes on. Read `in_part`, what is wrong below the
    header is kept beside it.
    """
    if len(text) > MAX_DEFINITION:
        raise definition_error(
            Place(file, 1), f"the file is longer than {MAX_DEFINITION} characters."
        )
    if text.count("[") > MAX_BRACKETS:
        raise definition_error(
            Place(file, 1), f"the file has more than {MAX_BRACKETS} '['.", "Take some out."
        )
    if "\0" in text[:1000]:
        raise definition_error(
            Place(file, 1),
            "this file is saved in a way that labkit does not read (UTF-16).",
            "Save it again as UTF-8: your editor asks for the encoding under 'Save as'.",
        )
    lines = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if lines[0].rstrip() != "---":
        raise definition_error(
            Place(file, 1),
            "the header is missing.",
            "Start the file with a line '---', then id, version and title, then a line '---'.",
        )
    end = next((n for n, line in enumerate(lines[1:], 1) if line.rstrip() == "---"), None)
    if end is None:
        raise definition_error(
            Place(file, 1), "the header does not end.", "Close it with a line '---'."
        )
    wrong: list[Problem] = []
    try:
        header = read_fields("\n".join(lines[1:end]), file, 2, careful=not dealt)
    except DefinitionError as error:
        wrong += error.problems
    parts, strays = _parts(lines, end + 1, file, dealt=dealt)
    broken = [each for part in parts if isinstance(part, BlockPart) for each in part.problems]
    if wrong or not in_part:
        wrong += broken or strays
    if wrong:
        raise DefinitionError(wrong)
    return Source(file, header, tuple(parts), strays=tuple(strays))


def read_fields(text: str, file: str, first_line: int, *, careful: bool = False) -> Fields:
    """Read YAML fields. Numbers, dates and words all stay text: the field decides what they are.

    Where it is `careful`, it refuses too what YAML reads as something else than what stands there.
    """
    try:
        node = _composed(text)
    except yaml.MarkedYAMLError as error:
        raise _unreadable(text, file, first_line, error) from error
    except yaml.reader.ReaderError as error:
        line = first_line + text.count("\n", 0, error.position)
        raise definition_error(
            Place(file, line),
            f"the character {chr(error.character)!a} cannot stand here.",
            "Take it out; it may be invisible.",
        ) from error
    except RecursionError as error:
        raise definition_error(
            Place(file, first_line), "the fields are nested too deep.", "Take brackets out."
        ) from error
    walk = _Walk(file, first_line, text, careful)
    data = {} if node is None else _plain(node, (), walk)
    if walk.problems:
        raise DefinitionError(walk.problems)
    if not isinstance(data, dict):
        raise definition_error(
            Place(file, first_line), "fields are missing.", "Write lines such as 'title: My lab'."
        )
    return Fields(data, file, first_line, walk.lines)


_TAG: Final = re.compile(r"(?:^|\s)!(?!=)")


def _composed(text: str) -> yaml.Node | None:
    """The text's nodes, by libyaml where there is one: it takes a tenth of the time.

    What it reads more loosely than PyYAML itself, or cannot read, PyYAML reads: so a definition is
    read on every machine or on none, and its mistakes are told in the same words.
    """
    if yaml.__with_libyaml__ and not any(map(_loose, text.split("\n"))):
        with suppress(yaml.YAMLError, UnicodeError, RecursionError):
            return yaml.compose(text, Loader=yaml.CSafeLoader)
    return yaml.compose(text, Loader=yaml.SafeLoader)


def _loose(line: str) -> bool:
    """Whether libyaml reads it otherwise: '?' in brackets, '#' behind '>' or '|', a tag."""
    if _TAG.search(line):
        return True
    if "?" in line and ("{" in line or "[" in line or line.lstrip(" -").startswith("?")):
        return True
    return "\t" in line or "\ufeff" in line or ("#" in line and (">" in line or "|" in line))


def _unreadable(
    text: str, file: str, first_line: int, error: yaml.MarkedYAMLError
) -> DefinitionError:
    """What is mistyped near the place where reading stopped, in the author's words."""
    context = error.context or ""
    flow = "flow" in context
    stopped, begun = error.problem_mark, error.context_mark
    at = stopped or begun
    found = mistyped(
        text.split("\n"), at.line if at else 0, begun.line if begun else None, flow=flow
    )
    if found:
        return definition_error(Place(file, first_line + found.line), found.message, found.mend)
    # Where nothing known is mistyped: an open bracket is told where it begins.
    mark = begun if flow and begun else at
    return definition_error(
        Place(file, first_line + (mark.line if mark else 0)),
        "these fields cannot be read.",
        "Check the indent and the colons, and put a text with ': ' or '#' in quotation marks.",
    )


def _parts(
    lines: list[str], start: int, file: str, *, dealt: bool
) -> tuple[list[ProsePart | BlockPart], list[Problem]]:
    body = "\n".join(lines[start:])
    parts: list[ProsePart | BlockPart] = []
    prose_from = 0
    body_lines = lines[start:]
    tokens = MarkdownIt("commonmark").parse(body)
    blocks: list[tuple[int, int]] = []
    for token in tokens:
        words = token.info.split() if token.type == "fence" and token.level == 0 else []
        if not words or words[0] not in BLOCK_WORDS or token.map is None:
            continue
        first, last = token.map
        blocks.append((first, last))
        _add_prose(parts, body_lines, prose_from, first, start, file)
        prose_from = last
        place = Place(file, start + first + 1)
        name = " ".join(words[1:])
        try:
            _refuse_unclosed(token, body_lines, start, place)
            fields = read_fields(token.content, file, start + first + 2, careful=not dealt)
            parts.append(BlockPart(words[0], name, fields, place, last=start + last))
        except DefinitionError as error:
            nothing = Fields({}, file, place.line, {})
            parts.append(
                BlockPart(words[0], name, nothing, place, error.problems, last=start + last)
            )
    _add_prose(parts, body_lines, prose_from, len(body_lines), start, file)
    strays = stray_exercises(body_lines, tokens, blocks)
    return parts, [] if dealt else _what_is_shown(parts, strays, start, file)


def _refuse_unclosed(token: Token, body_lines: list[str], start: int, place: Place) -> None:
    """Raise `DefinitionError`, at its first line, for a block whose end is missing."""
    assert token.map is not None
    first, last = token.map
    word = token.info.split()[0]
    swallowed = next((n for n in range(first + 1, last) if _BEGINS.match(body_lines[n])), None)
    if swallowed is not None:
        raise definition_error(
            place,
            f"this '{word}' block is not closed: another begins in line {start + swallowed + 1}.",
            f"Put {token.markup} on a line of its own where this block ends.",
        )
    if not body_lines[last - 1].lstrip().startswith(token.markup) or last - 1 == first:
        raise definition_error(
            place,
            f"this '{word}' block does not end: it is not closed.",
            f"Close it with {token.markup} on a line of its own.",
        )


def _what_is_shown(
    parts: list[ProsePart | BlockPart], strays: list[Stray], start: int, file: str
) -> list[Problem]:
    """Where a part of an exercise would stand in every workbook."""
    problems = [
        Problem(Place(file, start + stray.line + 1), stray.message, stray.mend) for stray in strays
    ]
    for part in parts:
        if isinstance(part, BlockPart):
            problems += [
                Problem(
                    part.fields.place((around,), f"{part.word} '{part.name}': "),
                    f"the text holds '{slid}:' with what stands under it, and would show it.",
                    f"Put '{slid}:' at the left margin, as '{around}:' is.",
                )
                for around, slid in slid_fields(part.fields.data)
            ]
    return problems


def _add_prose(
    parts: list[ProsePart | BlockPart],
    lines: list[str],
    first: int,
    last: int,
    start: int,
    file: str,
) -> None:
    while first < last and not lines[first].strip():
        first += 1
    text = "\n".join(lines[first:last]).strip()
    if text:
        parts.append(ProsePart(text, Place(file, start + first + 1)))


def _plain(node: yaml.Node, path: Path, walk: _Walk) -> Any:
    line = walk.lines.setdefault(path, walk.first_line + node.start_mark.line)
    if id(node) in walk.seen or len(path) > MAX_DEPTH:
        walk.problems.append(
            Problem(
                Place(walk.file, line, " → ".join(_step(step) for step in path)),
                "the fields refer to each other or are nested too deep.",
                "Write the value out instead of using '&' and '*'.",
            )
        )
        return ""
    walk.seen.add(id(node))
    if walk.careful:
        _refuse(walk, line, path, misread_value(node, path, walk.text))
    if isinstance(node, yaml.ScalarNode):
        if node.style in ("|", ">"):
            # The text of a block begins on the line after its mark.
            walk.lines[path] = walk.first_line + node.start_mark.line + 1
        if node.value.count("[") > MAX_BRACKETS:
            many = (f"has more than {MAX_BRACKETS} '['.", "Take some out.")
            _refuse(walk, line, path, many)
            return ""
        if node.tag.startswith("!["):
            # YAML takes the first word of a text that begins with a picture for a tag.
            return f"{node.tag} {node.value}".strip()
        return node.value
    if isinstance(node, yaml.SequenceNode):
        return [_plain(item, (*path, index), walk) for index, item in enumerate(node.value)]
    data: dict[str, Any] = {}
    before = ("", "")
    between = isinstance(node, yaml.MappingNode) and node.flow_style
    for at, (key, value) in enumerate(node.value):
        key_line = walk.first_line + key.start_mark.line
        if not isinstance(key, yaml.ScalarNode):
            braces = braces_as_value(node, str(path[-1]) if path else "", walk.text)
            no_name = ("a field's name is a word.", "Take '?' out.")
            _refuse(walk, key_line, path if braces else (), braces or no_name)
            return {}
        name = str(key.value)
        here = (*path, name)
        if name in data:
            walk.problems.append(
                Problem(Place(walk.file, key_line, name), "is written twice.", "Keep one of them.")
            )
        if walk.careful:
            around = str(path[-1]) if path else ""
            cut = misread_field(node.value, at, before, around) if between else None
            _refuse(walk, key_line, path, cut or misread_name(name))
        walk.lines[here] = key_line
        data[name] = _plain(value, here, walk)
        before = (name, data[name] if isinstance(data[name], str) else "")
    return data


def _refuse(walk: _Walk, line: int, path: Path, told: tuple[str, str] | None) -> None:
    if told:
        place = Place(walk.file, line, " → ".join(_step(step) for step in path))
        walk.problems.append(Problem(place, *told))


def _step(step: str | int) -> str:
    return f"number {step + 1}" if isinstance(step, int) else step
