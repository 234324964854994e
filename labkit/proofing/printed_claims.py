"""What a text claims of the numbers that it prints: "231 m of 250 m: keeps the rules", "3 A ≤ 4 A".

Only what can be read for sure is a claim: a verdict in the same part of a sentence as numbers of
the form "so much of a limit", in one unit, and verdicts of one sort alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from labkit.proofing.printed_sums import UNIT

_NUMBER: Final = r"(?<![\w.,])[+−-]?\d+(?:\.\d+)?(?![\w,]|\.\d)"
_OF_LIMIT: Final = re.compile(
    rf"({_NUMBER})\s?({UNIT}) of \**({_NUMBER})\s?({UNIT})(?![\w/])", re.IGNORECASE
)
_COMPARED: Final = re.compile(
    rf"({_NUMBER})(?:\s?({UNIT}))?\s*([<>≤≥])\s*\**({_NUMBER})(?:\s?({UNIT}))?(?![\w/])"
)
_BEFORE_COMPARED: Final = re.compile(r"[+−·×/÷]\s*$")
_MAY_CLAIM: Final = re.compile(r"[<>≤≥]|\d\D{0,9}\bof\b")
_PART: Final = re.compile(r"(?<=[.;!?])\**\s+|\n\s*\n|\|")
_KEEPS: Final = re.compile(r"\b(?:keeps?|kept|fits?|holds?|suffices?|(?:is|are) allowed)\b", re.I)
_BREAKS: Final = re.compile(
    r"\b(?:breaks?|broken|exceeds?|(?:is|are) too (?:long|much|large))\b", re.I
)
_DENIED: Final = re.compile(
    r"\b(?:not|no|nor|whether|if|unless|until|must|should|may|which)\b", re.I
)


@dataclass(frozen=True, slots=True)
class Claim:
    """A part of a sentence that claims something of printed numbers, and whether it holds."""

    text: str
    holds: bool


def claims(text: str) -> Iterator[Claim]:
    """Every claim that can be read for sure, in the order of the text."""
    for part in _PART.split(text):
        if not _MAY_CLAIM.search(part):
            continue
        words = " ".join(part.split())
        yield from _compared(words)
        limits = [
            (_number(number), _number(limit))
            for number, unit, limit, limit_unit in _OF_LIMIT.findall(words)
            if unit == limit_unit
        ]
        keeps, breaks = bool(_KEEPS.search(words)), bool(_BREAKS.search(words))
        if limits and keeps != breaks and not _DENIED.search(words):
            kept = all(number <= limit for number, limit in limits)
            yield Claim(words, kept == keeps)


def _compared(words: str) -> Iterator[Claim]:
    for match in _COMPARED.finditer(words):
        left, left_unit, sign, right, right_unit = match.groups()
        if left_unit != right_unit or _BEFORE_COMPARED.search(words[: match.start()]):
            continue
        one, other = _number(left), _number(right)
        true = {"<": one < other, ">": one > other, "≤": one <= other, "≥": one >= other}[sign]
        yield Claim(match[0], true)


def _number(text: str) -> float:
    return float(text.replace("−", "-"))
