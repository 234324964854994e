"""Pictures that a lab's texts name: found, checked, and taken along with the lab.

`![A motor starter, its cover off](starter.jpg)` names a file beside lab.md. In the text its name
gives way to a token, which is the picture's data when the text is shown.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from markdown_it import MarkdownIt
from markdown_it.token import Token

from labkit.lab.reading.source import BlockPart, Fields, ProsePart, Source
from labkit.lab.reading.source import Path as FieldPath
from labkit.language.problems import Place, Problem

if TYPE_CHECKING:
    from labkit.lab.reading.picture_file import Carried

MAX_PICTURES: Final = 20
MAX_TOGETHER: Final = 4_000_000
"""Characters of all pictures of a lab: they go into every workbook."""
_IN_WORDS: Final = r"!\[((?:[^\[\]]|\[[^\[\]]*\])*)\]"
_NAMED: Final = re.compile(
    _IN_WORDS + r"\(\s*(?:<([^<>\n]*)>|([^\s()<>]*))(?:\s+(?:\"[^\"]*\"|'[^']*'))?\s*\)"
)
_MEANT: Final = re.compile(r"!\[[^\]\n]*\][\[(][^)\]\n]*[)\]]?")
_MAY_HOLD: Final = ("question", "working", "hints", "picture")
_WRITE: Final = "Write it as ![what it shows, in words](file.png)."
_RAW: Final = re.compile(r"<(?:img|picture|image|svg|object|embed|iframe)\b", re.IGNORECASE)


@dataclass(slots=True)
class Pictures:
    """The pictures of one file of a definition, whose texts are in `source`."""

    folder: Path
    source: Source
    found: dict[str, Carried] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    @classmethod
    def of(cls, folder: Path, source: Source) -> Pictures:
        """All of them; `source` is then the definition with tokens in their places."""
        pictures = cls(folder, source)
        parts = tuple(pictures._part(part) for part in source.parts)
        pictures.source = replace(source, parts=parts)
        pictures._check_together()
        return pictures

    def _part(self, part: ProsePart | BlockPart) -> ProsePart | BlockPart:
        if isinstance(part, ProsePart):
            return replace(part, text=self._text(part.text, part.place))
        if not any("![" in text or "<" in text for _, text in _texts(part.fields.data)):
            return part
        return replace(part, fields=self._fields(part))

    def _fields(self, part: BlockPart) -> Fields:
        fields, label = part.fields, f"{part.word} '{part.name}': "
        data: Any = fields.data
        for path, text in _texts(fields.data):
            if "![" not in text and "<" not in text:
                continue
            place = fields.place(path, label)
            if path[0] in _MAY_HOLD:
                data = _with(data, path, self._text(text, place))
            elif _names_of(text):
                message = "a picture cannot stand here."
                mend = "It can in the text, in a question, a working and a hint."
                self.problems.append(Problem(place, message, mend))
        return replace(fields, data=data)

    def _text(self, text: str, place: Place) -> str:
        if _RAW.search(text):
            self._check_raw(text, place)
        if "![" not in text:
            return text
        self._check_meant(text, place)
        names = _names_of(text)
        left = set(names)

        def token(match: re.Match[str]) -> str:
            name = match[2] if match[2] is not None else match[3]
            if name not in names:
                return match[0]  # shown as code
            left.discard(name)
            line = text.count("\n", 0, match.start())
            here = Place(place.file, place.line + line, place.field)
            picture = self._carried(name, " ".join(match[1].split()), here)
            return f"![{match[1]}]({picture.token})" if picture else match[0]

        written = _NAMED.sub(token, text)
        for name in sorted(left):
            message = f"the picture '{name[:80]}' is not named in the way that is carried along."
            self.problems.append(Problem(_first(_MEANT, text, place), message, _WRITE))
        return written

    def _carried(self, name: str, words: str, place: Place) -> Carried | None:
        # What reads pictures takes a moment to load, and few labs have any.
        from labkit.lab.reading.picture_file import PictureError, carried

        if len(words) < 3 or words.lower() == name.lower():
            self.problems.append(
                Problem(
                    place,
                    f"the picture '{name[:80]}' has no words for those who cannot see it.",
                    "Write between [ and ] what it shows, as you would tell it on the telephone.",
                )
            )
        if name not in self.found:
            if len(self.found) >= MAX_PICTURES:
                message = f"the lab names more than {MAX_PICTURES} pictures."
                self.problems.append(Problem(place, message, "Take some out."))
                return None
            try:
                self.found[name] = carried(self.folder, name)
            except PictureError as error:
                self.problems.append(Problem(place, error.message, error.mend))
                return None
        return self.found[name]

    def _check_meant(self, text: str, place: Place) -> None:
        """What is written nearly as a picture, a space or a formula in its name, is text."""
        for token in _tokens(text):
            pieces = [each.content for each in token.children or [] if each.type == "text"]
            if meant := _MEANT.search("".join(pieces)):
                here = _first(re.compile(re.escape(meant[0])), text, place)
                message = f"'{meant[0][:60]}' is no picture: a space or a formula is in its name."
                self.problems.append(Problem(here, message, _WRITE))

    def _check_raw(self, text: str, place: Place) -> None:
        """HTML is text to the pages, but not to a notebook: it could fetch something there."""
        for token in _tokens(text):
            if token.type in ("html_block", "html_inline") and _RAW.search(token.content):
                here = _first(_RAW, text, place)
                self.problems.append(Problem(here, "HTML for a picture is not carried.", _WRITE))
                return

    def _check_together(self) -> None:
        if sum(len(picture.uri) for picture in self.found.values()) > MAX_TOGETHER:
            large = max(self.found, key=lambda name: len(self.found[name].uri))
            self.problems.append(
                Problem(
                    Place(self.source.file, 1),
                    f"the pictures together have more than {MAX_TOGETHER // 1_000_000} MB, and "
                    f"each workbook carries them; '{large}' is the largest.",
                    "Save photos as JPEG, cut them to what is to be seen, or take some out.",
                )
            )


def _first(sought: re.Pattern[str], text: str, place: Place) -> Place:
    """The place of what is found first in a text that begins at `place`."""
    found = sought.search(text)
    line = text.count("\n", 0, found.start()) if found else 0
    return Place(place.file, place.line + line, place.field)


def _names_of(text: str) -> set[str]:
    """The pictures that Markdown sees in a text, as they are written."""
    return {str(token.attrs.get("src", "")) for token in _tokens(text) if token.type == "image"}


def _tokens(text: str) -> Iterator[Token]:
    pending = list(_READER.parse(text))
    while pending:
        token = pending.pop(0)
        yield token
        pending += token.children or []


class _EveryAddress(MarkdownIt):
    """Takes every address as it is written: what is wrong with it is told here."""

    def validateLink(self, url: str) -> bool:  # noqa: N802, ARG002
        return True

    def normalizeLink(self, url: str) -> str:  # noqa: N802
        return url


_READER: Final = _EveryAddress("commonmark")


def _texts(value: Any, path: FieldPath = ()) -> Iterator[tuple[FieldPath, str]]:
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, dict):
        for name, item in value.items():
            yield from _texts(item, (*path, name))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from _texts(item, (*path, index))


def _with(value: Any, path: FieldPath, text: str) -> Any:
    """A value with a text at a path, and the rest as it was."""
    if not path:
        return text
    first, *rest = path
    if isinstance(value, dict):
        return {**value, first: _with(value[first], tuple(rest), text)}
    return [_with(v, tuple(rest), text) if n == first else v for n, v in enumerate(value)]
