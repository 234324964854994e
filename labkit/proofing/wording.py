"""How hard and how long a lab's text is to read.

The level is the Flesch–Kincaid grade (J. P. Kincaid, R. P. Fishburne, R. L. Rogers, B. S. Chissom,
Research Branch Report 8-75, Naval Technical Training Command, 1975; constants as in general use):
0.39 · words per sentence + 11.8 · syllables per word − 15.59, a year of school in the USA. It knows
nothing of sense: it tells long sentences and long words.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import ClassVar, Final

from markdown_it import MarkdownIt

from labkit.lab.definition import Lab
from labkit.proofing.findings import Finding, Severity
from labkit.proofing.sample import Drawn
from labkit.proofing.syllables import syllables

WORDS_A_MINUTE: Final = 238
"""Adults reading non-fiction silently, in English (M. Brysbaert, Journal of Memory and Language
109, 2019; value from memory)."""
HARD_GRADE: Final = 8
"""Told above this grade: our choice, for people who learn a trade and may read a second tongue."""
LONG_SHARE: Final = 0.25
"""Told where mere reading takes more than this share of the lab's minutes: our choice."""
_ENOUGH_WORDS: Final = 100
"""Below so many words (R. Flesch's samples had a hundred) a grade says nothing."""

# Words of the trade that the standards give (IEC 61131-3, IEC 62026-3, IEC 61158, ISO 11898): who
# learns the trade learns them first, and no author can choose a shorter one.
_TRADE: Final = frozenset(
    {
        "address",
        "connector",
        "conductor",
        "continuity",
        "controller",
        "device",
        "identifier",
        "indicator",
        "input",
        "module",
        "network",
        "output",
        "polarity",
        "processor",
        "resistance",
        "resistor",
        "scanner",
        "supply",
        "terminal",
        "terminator",
        "variable",
        "voltage",
    }
)
_WORD: Final = re.compile(r"[^\W\d_]+(?:['’\-][^\W\d_]+)*")
_IN_WORDS: Final = re.compile(r"\w")
_SENTENCE: Final = re.compile(r"(?<=[.!?;])[\"'”’)*]*\s+(?=\S)")
_MARKDOWN: Final = MarkdownIt("commonmark").enable("table")


@dataclass(frozen=True, slots=True)
class Wording:
    """A text in figures. `words` is all there is to read; the level is that of its sentences."""

    words: int
    sentences: int
    words_per_sentence: float
    syllables_per_word: float

    @property
    def grade(self) -> float:
        """The Flesch–Kincaid grade."""
        return 0.39 * self.words_per_sentence + 11.8 * self.syllables_per_word - 15.59

    @property
    def minutes(self) -> float:
        """How long it takes to read."""
        return self.words / WORDS_A_MINUTE

    def to_json(self) -> dict[str, float]:
        """The figures as plain JSON data."""
        return {
            "words": self.words,
            "sentences": self.sentences,
            "words_per_sentence": round(self.words_per_sentence, 2),
            "syllables_per_word": round(self.syllables_per_word, 3),
            "grade": round(self.grade, 1),
            "minutes": round(self.minutes, 1),
        }


def _tokens(text: str) -> list[str]:
    """What stands between blanks and is no mere sign."""
    return [each for each in text.split() if _IN_WORDS.search(each)]


def wording_of(texts: Iterable[str]) -> Wording | None:
    """The figures of Markdown texts; None where there is no sentence in them.

    Headings and tables are read but are no sentences. Numbers, signs and words of the trade count
    as words of a sentence, but their syllables are not counted.
    """
    words, sentences, in_sentences, plain = 0, 0, 0, list[str]()
    for text in texts:
        for piece, is_prose in _pieces(text):
            words += len(_tokens(piece))
            if not is_prose:
                continue
            for sentence in _SENTENCE.split(piece):
                found = len(_tokens(sentence))
                sentences += bool(found)
                in_sentences += found
                plain += _plain_words(sentence)
    if not sentences or not plain:
        return None
    counted = sum(map(syllables, plain))
    return Wording(words, sentences, in_sentences / sentences, counted / len(plain))


def _pieces(text: str) -> Iterator[tuple[str, bool]]:
    """The pieces of plain text, and whether each is prose (not a heading, not a table)."""
    before = ""
    for token in _MARKDOWN.parse(text):
        if token.type == "inline":
            words = "".join(
                child.content if child.type == "text" else " "
                for child in token.children or ()
                if child.type in ("text", "softbreak", "hardbreak")
            )
            yield words, before == "paragraph_open"
        before = token.type


def _plain_words(sentence: str) -> list[str]:
    return [
        word
        for token in _tokens(sentence)
        if not any(sign.isdigit() or sign == "_" for sign in token)
        for word in _WORD.findall(token)
        # Signs and abbreviations (V, CAN, kbit) are read by their letters.
        if (len(word) > 1 or word == "a") and not word.isupper() and not _is_trade(word.lower())
    ]


def _is_trade(word: str) -> bool:
    singular = f"{word[:-3]}y" if word.endswith("ies") else word
    return any(singular.removesuffix(ending) in _TRADE for ending in ("", "s", "es"))


@dataclass(frozen=True, kw_only=True)
class HardToRead(Finding):
    """Long sentences or long words."""

    id: ClassVar[str] = "hard-to-read"
    usual: ClassVar[Severity] = Severity.LOOK
    """A measure of letters, not of sense."""
    grade: float
    words_per_sentence: float
    syllables_per_word: float

    @property
    def sentence(self) -> str:
        """The grade and what it comes from."""
        return (
            f"the text reads at grade {self.grade:.1f} (told above {HARD_GRADE}): "
            f"{self.words_per_sentence:.1f} words a sentence, {self.syllables_per_word:.2f} "
            "syllables a word without words of the trade."
        )

    @property
    def mend(self) -> str:
        """Shorter ones."""
        return "Make two sentences of one, and take the shorter word."


@dataclass(frozen=True, kw_only=True)
class LongToRead(Finding):
    """Too much text for the time."""

    id: ClassVar[str] = "long-to-read"
    usual: ClassVar[Severity] = Severity.LOOK
    """Some labs are for reading."""
    words: int
    minutes: float
    stated: int

    @property
    def sentence(self) -> str:
        """How long, of how much."""
        return (
            f"merely to read its {self.words} words takes some {self.minutes:.0f} of the "
            f"{self.stated} minutes (told above {100 * LONG_SHARE:.0f} %, at {WORDS_A_MINUTE} "
            "words a minute)."
        )

    @property
    def mend(self) -> str:
        """Shorter, or more time."""
        return "Shorten the text, or state more under 'minutes'."


@dataclass(slots=True)
class Readable:
    """Measures the first draw's text: others differ in numbers and names."""

    lab: Lab
    wording: Wording | None = None

    def see(self, drawn: Drawn) -> None:
        """Take one draw in."""
        if self.wording is None:
            read = [text.text for text in drawn.texts if text.what in ("the text", "the question")]
            self.wording = wording_of(read)

    def add(self, later: Readable) -> None:
        """Add what later draws gave: nothing, but where there was none."""
        self.wording = self.wording or later.wording

    def findings(self) -> list[Finding]:
        """Hard to read; too long."""
        wording, found = self.wording, list[Finding]()
        if wording is None or wording.words < _ENOUGH_WORDS:
            return found
        if wording.grade > HARD_GRADE:
            found.append(
                HardToRead(
                    place=self.lab.place,
                    grade=wording.grade,
                    words_per_sentence=wording.words_per_sentence,
                    syllables_per_word=wording.syllables_per_word,
                )
            )
        if wording.minutes > LONG_SHARE * self.lab.minutes:
            found.append(
                LongToRead(
                    place=self.lab.place.at("minutes"),
                    words=wording.words,
                    minutes=wording.minutes,
                    stated=self.lab.minutes,
                )
            )
        return found
