"""Where a person is named in a class folder: in what labkit wrote there, and in what lies beside.

What labkit wrote is known by its place and name. Everything else is looked into, also inside of
what is packed, so that the instructor can be told of it.
"""

from __future__ import annotations

import html
import json
import os
import re
import unicodedata
import zipfile
import zlib
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Final
from urllib.parse import quote

from labkit.classroom.unlinked import LinkError, open_unlinked

OWN_FOLDERS: Final = (
    *("hand-ins", "set-aside", "receipts", "scores", "print", "certificates"),
    *("workbooks", "room"),
)
"""The folders of a class in which labkit writes of people."""
_PAGES: Final = ("transcripts", "certificates", "handouts")
_OF_EVERYBODY: Final = re.compile(
    r"(all-handouts|all-certificates|instructors-copy|cards|fault-cards|fault-cards-trainer)"
    r"\.(html|pdf)|fault-cards\.json"
)
_SCORES: Final = re.compile(
    r"score-sheet\.(csv|xlsx)|(overview|analysis|debrief|gain)\.html|debrief\.json"
)
# How the lists of an export begin.
_TABLE: Final = b"sourcedId,status,"
_LISTS: Final = {
    **dict.fromkeys(("results.csv", "users.csv", "enrollments.csv"), _TABLE),
    "statements.jsonl": b'{"id":"',
}
_PART: Final = re.compile(r"(\..+\.\d+|.+\.(html|pdf|csv|json|jsonl|ipynb))\.part")
_PACKED_DEPTH: Final = 3
_MOST: Final = 64_000_000
"""Bytes of a file, or of what is packed in one, that are looked through."""
_STREAM: Final = re.compile(rb"stream\r?\n(.*?)\r?\nendstream", re.DOTALL)
_SHORTEST: Final = 3
"""Characters an id must have to be looked for in texts: shorter ones stand everywhere."""


@dataclass(frozen=True, slots=True)
class Found:
    """A file, or a link, and the folder below which no link leads to it."""

    file: Path
    top: Path

    @property
    def name(self) -> str:
        """Its name in Unicode's composed form: some systems take names apart."""
        return unicodedata.normalize("NFC", self.file.name)

    def data(self) -> bytes | None:
        """Its bytes; None for what cannot be read or is a link."""
        try:
            with open_unlinked(self.file, self.top) as stream:
                return stream.read(_MOST)
        except (OSError, LinkError):
            return None


def everything_in(class_folder: Path) -> Iterator[Found]:
    """Every file and link below a class; of its own entries, labkit's folders may be links."""
    own = (class_folder / name for name in OWN_FOLDERS)
    for top in (class_folder, *(place for place in own if place.is_symlink())):
        for place, folders, files in os.walk(top):
            links = [name for name in folders if (Path(place) / name).is_symlink()]
            for name in (*files, *links):
                yield Found(Path(place) / name, top)


def of_everybody(found: Found, class_folder: Path) -> bool:
    """Whether labkit wrote this of the whole class, or left it unfinished."""
    if _PART.fullmatch(found.name) or _OF_EVERYBODY.fullmatch(found.name):
        return True
    if found.file.parent == class_folder / "scores":
        return _SCORES.fullmatch(found.name) is not None
    begins = _LISTS.get(found.name)
    return begins is not None and (found.data() or b"").startswith(begins)


def page_of(found: Found, trainee: str) -> bool:
    """Whether this is a person's handout, transcript or certificate."""
    folder, (stem, _, ending) = found.file.parent.name, found.name.rpartition(".")
    if folder not in _PAGES or stem != unicodedata.normalize("NFC", trainee):
        return False
    return ending == "html" or (folder, ending) == ("handouts", "pdf")


class Spellings:
    """A person's ids and names in every spelling that labkit and other programs write.

    `others` are ids and names of other people: "zq" does not stand in "zq.b".
    """

    def __init__(self, ids: Collection[str], names: Collection[str], others: Iterable[str]) -> None:
        longer = [other for other in others if any(own in other for own in (*ids, *names))]
        whole = [one for one in ids if len(one) >= _SHORTEST]
        called, mine = _words([*ids, *names]), _words([*whole, *names])
        wide = [re.escape(form) for text in names for form in _wide(text)]
        quoted = [rb'"id"\s*:\s*"' + re.escape(form) + b'"' for form in _spelt(ids)]
        self._in_name = _pattern(called, longer)
        self._inside = _pattern([*mine, *wide], longer)
        self._as_author = _pattern([*quoted, *_words(names)], longer)

    def name(self, file: Path) -> bool:
        """Whether a file's name, or that of a folder above, names the person."""
        return _found(self._in_name, os.fsencode(file))

    def author(self, data: bytes) -> bool:
        """Whether what may be half a hand-in says that it is the person's."""
        return _found(self._as_author, data)

    def inside(self, data: bytes) -> bool:
        """Whether some bytes name the person, packed or not."""
        return any(_found(self._inside, part) for part in _unpacked(data))


def _pattern(mine: Iterable[bytes], longer: Iterable[str]) -> re.Pattern[bytes]:
    passed = b"".join(form + b"|" for form in _words(longer))
    return re.compile(passed + b"(" + (b"|".join(mine) or b"(?!)") + b")", re.IGNORECASE)


def _found(pattern: re.Pattern[bytes], data: bytes) -> bool:
    return any(match[1] is not None for match in pattern.finditer(data))


def _words(texts: Iterable[str]) -> list[bytes]:
    """Patterns of texts that are not inside of a longer word: bytes above 127 are in letters."""
    return [
        rb"(?<![\w\x80-\xff])" + re.escape(form) + rb"(?![\w\x80-\xff])" for form in _spelt(texts)
    ]


def _spelt(texts: Iterable[str]) -> list[bytes]:
    found: dict[bytes, None] = {}
    for text in texts:
        for form in ("NFC", "NFD"):
            plain = unicodedata.normalize(form, text)
            for escaped in (plain, html.escape(plain, quote=False), html.escape(plain)):
                # Two ways to write each quotation mark.
                other = escaped.replace("&quot;", "&#34;").replace("&#x27;", "&#39;")
                found |= dict.fromkeys((escaped.encode(), other.encode()))
            bare = (json.dumps(plain), json.dumps(plain, ensure_ascii=False))
            found |= dict.fromkeys(word[1:-1].encode() for word in bare)
            found |= dict.fromkeys((plain.replace('"', '""').encode(), quote(plain).encode()))
    return list(found)


def _wide(text: str) -> list[bytes]:
    """A text as the properties of a PDF hold it."""
    composed = unicodedata.normalize("NFC", text)
    return [composed.encode("utf-16-be"), composed.encode("utf-16-le")]


def _unpacked(data: bytes, depth: int = _PACKED_DEPTH) -> Iterator[bytes]:
    """The bytes; what is packed in them; the streams of a PDF. What is damaged is left out."""
    yield data
    if data.startswith(b"PK") and depth:
        try:
            with zipfile.ZipFile(BytesIO(data)) as packed:
                for name in packed.namelist():
                    yield name.encode()
                    with packed.open(name) as member:
                        yield from _unpacked(member.read(_MOST), depth - 1)
        except (zipfile.BadZipFile, RuntimeError, OSError, zlib.error, NotImplementedError):
            return
    if data.startswith(b"%PDF"):
        for stream in _STREAM.findall(data):
            try:
                yield zlib.decompressobj().decompress(stream, _MOST)
            except zlib.error:
                continue
