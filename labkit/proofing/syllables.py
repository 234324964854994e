"""Syllables of English words, counted from their letters.

A group of vowels is a syllable, but for an `e` that is not spoken and for pairs of vowels that are
spoken apart. How often this is right is measured on a word list in the tests.
"""

from __future__ import annotations

import re
from typing import Final

_LETTERS: Final = re.compile(r"[a-z]+")
_VOWELS: Final = re.compile(r"[aeiouy]+")
_SILENT: Final = re.compile(
    # Within a word, before a second part: place|ment, safe|ly, name|plate, every|thing.
    r"(?<=[aeiouy][^aeiouy])e(?=(?:ment|ful|less|ly|where|thing|time|work|body|one|man|plate)s?$)"
    # At the end, alone or before s or d; but spoken in ta|ble, me|tre, box|es, ra|ted.
    r"|(?<=[^aeiouy])(?<![^aeiouyrlw]l)(?<!t[r])e$"
    r"|(?<=[^aeiouy])(?<![^aeiouyrlw]l)(?<!t[r])(?<![sxzcg])(?<![cs]h)es$"
    r"|(?<=[^aeiouy])(?<![^aeiouyrlw]l)(?<![td])ed$"
)
_APART: Final = re.compile(
    r"(?<![ctsg])ia|(?<![ctsgxn])io|iu"  # dial, radio, medium; but not in nation
    r"|(?<=[bdlmnprtv])ie(?=[tn](?!d))|(?<=c)ie(?=nt?i)|(?<=[dlr]i)er$"  # client, science
    r"|eo(?![up])|(?<=r)ea(?=t[eio])|(?<=[nr])ea(?=s?$)"  # video, create, area
    r"|ua(?=[lt])|(?<![gq])ue(?=[ln])|uou"  # manual, fuel
    r"|[aeiouy]ing|[^aeiouy]sm$|ii|ao|oe(?=[tr])"  # going, mechanism, poet
)


def syllables(word: str) -> int:
    """How many syllables a word has, at least one. A hyphen parts it."""
    parts = _LETTERS.findall(word.lower().replace("'", "").replace("’", ""))
    return max(1, sum(_of_part(part) for part in parts))


def _of_part(word: str) -> int:
    spoken = _SILENT.sub("", word)
    return max(1, len(_VOWELS.findall(spoken)) + len(_APART.findall(spoken)))
