"""How near a typed term is to a known spelling: the same, a slip of the finger away, or another.

What counts for nothing: capitals, an article before it, marks around it; blanks, hyphens and
underscores between letters; dots on letters, written out or left as accents. Between two digits a
hyphen or a blank stays what it is, and a sign at an end stays: "61131-3" is not "611313", "V+" not
"V-".
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final

from labkit.language.near import letters_wrong

ENOUGH_LETTERS: Final = 5
"""A word of so many letters may have one wrong, missing or too many, or two exchanged."""

_UMLAUTS: Final = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ø": "oe", "æ": "ae", "œ": "oe"})
_DASHES: Final = re.compile("[\u2010-\u2015\u2212\ufe58\ufe63\uff0d]")
_AROUND: Final = " .,;:!?\"'`´‘’‚“”„«»()[]*_"
_ARTICLE: Final = re.compile(r"^(?:the|an?) (?=\S)")
_JOINT: Final = re.compile(r"(?<=[^\W_])[-_](?=[^\W\d_])|(?<=[^\W\d_])[-_](?=[^\W_])")
_BLANK_BESIDE_SIGN: Final = re.compile(r" (?=[^\w\s])|(?<=[^\w\s]) ")


def words_of(text: str) -> list[str]:
    """The words of a term, without what counts for nothing."""
    plain = unicodedata.normalize("NFKC", text).casefold()
    plain = unicodedata.normalize("NFC", _DASHES.sub("-", plain)).translate(_UMLAUTS)
    letters = unicodedata.normalize("NFKD", plain)
    plain = "".join(letter for letter in letters if not unicodedata.combining(letter))
    plain = " ".join(plain.split()).strip(_AROUND)
    plain = _ARTICLE.sub("", plain)
    return _BLANK_BESIDE_SIGN.sub("", _JOINT.sub(" ", plain)).split()


def folded(text: str) -> str:
    """A term as it is compared: its words in one, but for blanks between two digits."""
    return re.sub(r"(?<!\d) | (?!\d)", "", " ".join(words_of(text)))


def errors_forgiven(typed: str, spelling: str) -> int | None:
    """How many typing errors make `typed` of `spelling`; None where they are not forgiven.

    One in a word of five letters or more; none in a shorter one, or in one with a digit.
    """
    if folded(typed) == folded(spelling):
        return 0
    mine, known = words_of(typed), words_of(spelling)
    if len(mine) != len(known):
        if not all(map(_forgiving, known)):
            return None
        mine, known = [folded(typed)], [folded(spelling)]
    wrong = [_letters_wrong(one, other) for one, other in zip(mine, known, strict=True)]
    fits = all(
        errors == 0 or (errors == 1 and _forgiving(word))
        for errors, word in zip(wrong, known, strict=True)
    )
    return sum(wrong) if fits else None


def says(text: str, spelling: str) -> bool:
    """Whether a text holds a spelling as whole words."""
    words = [word for piece in text.split() for word in words_of(piece)]
    wanted, most = folded(spelling), len(words_of(spelling)) + 1
    return any(
        folded(" ".join(words[at : at + size])) == wanted
        for at in range(len(words))
        for size in range(1, most + 1)
    )


def as_near(typed: str, spelling: str, errors: int) -> bool:
    """Whether no more than so many errors make `typed` of `spelling`, however short it is."""
    mine, known = folded(typed), folded(spelling)
    return abs(len(mine) - len(known)) <= errors and letters_wrong(mine, known) <= errors


def _forgiving(word: str) -> bool:
    return len(word) >= ENOUGH_LETTERS and word.isalpha()


def _letters_wrong(typed: str, word: str) -> int:
    """Letters wrong; 2 stands for any more."""
    if typed == word:
        return 0
    if abs(len(typed) - len(word)) > 1:
        return 2
    return min(2, letters_wrong(typed, word))
