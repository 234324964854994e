"""In which encoding a text file was saved, found from its bytes.

UTF-8, UTF-16 and UTF-32 tell themselves (RFC 3629, the Unicode Standard's byte order mark).
Anything else fits several encodings: the one whose words look most like words is taken. This is a
guess, and whoever calls says so to the instructor.
"""

from __future__ import annotations

import codecs
import re
import unicodedata
from functools import lru_cache
from itertools import pairwise
from typing import Final

from labkit.classroom.errors import ClassError

_MARKS: Final = (
    # UTF-32 first: its mark begins as that of UTF-16 does.
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
    (codecs.BOM_UTF8, "utf-8-sig"),
)
# The usual ones of office programs; of two that look equally well the earlier is taken.
_TRIED: Final = (
    *("cp1252", "cp1250", "cp1251", "cp1253", "cp1254", "cp1255", "cp1256", "cp1257"),
    *("cp932", "cp949", "gb18030", "big5", "mac_roman", "cp850", "cp866", "koi8_r"),
)
_WORD: Final = re.compile(r"[^\W\d_]+")
_LOOKED_AT: Final = 20_000


def decoded(data: bytes, encoding: str | None, file: str) -> tuple[str, str, bool]:
    """The text, the encoding it was read in, and whether that was a guess.

    `encoding` is what the instructor wrote. Raises `ClassError` when it does not fit.
    """
    if encoding:
        return _as_told(data, encoding, file), encoding, False
    for mark, name in _MARKS:
        if data.startswith(mark):
            return data.decode(name, errors="replace"), name, False
    if name := _bare_utf16(data):
        return data.decode(name, errors="replace"), name, False
    try:
        return data.decode("utf-8"), "utf-8", False
    except UnicodeDecodeError:
        pass
    texts = {name: text for name in _TRIED if (text := _strictly(data, name)) is not None}
    if not texts:
        return data.decode("cp1252", errors="replace"), "cp1252", True
    best = max(texts, key=lambda name: _likeness(texts[name]))
    return texts[best], best, True


def _as_told(data: bytes, encoding: str, file: str) -> str:
    try:
        codec = codecs.lookup(encoding)
        if not codec._is_text_encoding:
            raise LookupError
        text = data.decode(encoding)
    except LookupError:
        raise ClassError(
            f"class.yaml, field 'roster_encoding': '{encoding}' is no encoding that Python knows. "
            "Write one such as utf-8 or cp1251, or leave the line out."
        ) from None
    except ValueError:
        raise ClassError(
            f"The roster {file} is not in the encoding '{encoding}' that class.yaml names. Leave "
            "'roster_encoding' out, or save the roster as UTF-8."
        ) from None
    return text.removeprefix("\ufeff")


def _bare_utf16(data: bytes) -> str:
    """UTF-16 without its mark: every second byte of plain Latin text is 0."""
    head = data[:400]
    if len(head) < 4 or len(data) % 2:
        return ""
    even, odd = head[0::2].count(0), head[1::2].count(0)
    if odd > 0.4 * len(head) / 2 and not even:
        return "utf-16-le"
    return "utf-16-be" if even > 0.4 * len(head) / 2 and not odd else ""


def _strictly(data: bytes, name: str) -> str | None:
    try:
        return data.decode(name)
    except UnicodeDecodeError:
        return None


def _likeness(text: str) -> float:
    """How much a text looks like names: more is better.

    Letters of one script in a word, in a usual order of capitals, speak for it; signs, lines and
    letters of the wrong case inside a word speak against it.
    """
    points = 0.0
    foreign = 0
    text = text[:_LOOKED_AT]
    for char in text:
        if char.isascii():
            continue
        foreign += 1
        kind = unicodedata.category(char)
        points += 1 if kind[0] == "L" else (-3 if kind[0] in "SCZ" else -1.5)
    for word in _WORD.findall(text):
        if not word.isascii():
            points -= 2 * (len({_script(char) for char in word}) - 1)
            points -= 2 * _odd_capitals(word)
            points -= 2 * _crowded_accents(word)
    return points / max(foreign, 1)


@lru_cache(maxsize=4_096)
def _script(char: str) -> str:
    """The first word of the letter's Unicode name: LATIN, CYRILLIC, HIRAGANA …"""
    first = unicodedata.name(char, "UNKNOWN").split(" ")[0].split("-")[0]
    # Names in Japanese mix these freely.
    return "CJK" if first in ("HIRAGANA", "KATAKANA", "HALFWIDTH") else first


def _crowded_accents(word: str) -> int:
    """How often two letters beyond A to Z stand side by side in a Latin word."""
    return sum(
        not a.isascii() and not b.isascii() and _script(a) == _script(b) == "LATIN"
        for a, b in pairwise(word)
    )


def _odd_capitals(word: str) -> int:
    """How often a capital follows a small letter, beyond the one of a Latin name like McAdam."""
    turns = sum(a.islower() and b.isupper() for a, b in pairwise(word))
    begins_small = word[0].islower() and any(char.isupper() for char in word[1:])
    usual = 1 if _script(word[0]) == "LATIN" else 0
    return max(0, turns - usual) + begins_small
