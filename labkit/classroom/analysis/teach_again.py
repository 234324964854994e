"""What to teach again, in plain sentences that are worked out from the marks."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from labkit.classroom.analysis.items import ItemFigures
from labkit.classroom.analysis.misunderstood import SlipRank
from labkit.classroom.analysis.whole import LabAnalysis

HARD: Final = 0.6
"""An exercise that earned less than this share of its marks is worth coming back to."""
EASY: Final = 0.85
OFTEN: Final = 0.2
"""A mistake that this share of the class made, and at least two people, is worth telling all."""
MOST: Final = 6
FIRST: Final = 3
"""So many mistakes are taught again first."""

_WORDS: Final = tuple(
    "nobody one two three four five six seven eight nine ten eleven twelve".split()  # noqa: SIM905
)


@dataclass(frozen=True, slots=True)
class Finding:
    """One sentence for the trainer; `weight` is the part of the class that it is about."""

    sentence: str
    weight: float


def findings(analysis: LabAnalysis) -> tuple[Finding, ...]:
    """At most six sentences, the ones about most people first."""
    often = [slip for slip in analysis.slips if _often(slip.count, slip.handed_in)]
    blank = [item for item in analysis.items if _often(item.blank, item.trainees)]
    told = {slip.exercise for slip in often} | {item.exercise for item in blank}
    hard = [i for i in analysis.items if i.difficulty < HARD and i.exercise not in told]
    backwards = [
        item
        for item in analysis.items
        if item.discrimination_range and item.discrimination_range.high < 0
    ]
    found = [
        *map(_slip, often),
        *map(_blank, blank),
        *([_hard(hard)] if hard else []),
        *map(_backwards, backwards),
    ]
    return tuple(sorted(found, key=lambda finding: -finding.weight)[:MOST])


def well_known(analysis: LabAnalysis) -> tuple[ItemFigures, ...]:
    """The exercises that need no more teaching: nearly all marks, and no mistake made often."""
    slips = {slip.exercise for slip in analysis.slips if _often(slip.count, slip.handed_in)}
    return tuple(
        item for item in analysis.items if item.difficulty >= EASY and item.exercise not in slips
    )


def first_to_teach(slips: Sequence[SlipRank]) -> tuple[SlipRank, ...]:
    """The known mistakes of one lab that are worth telling all, at most three."""
    return tuple(slip for slip in slips if _often(slip.count, slip.handed_in))[:FIRST]


def spoken(number: int) -> str:
    """A number as prose writes it: words up to twelve."""
    return _WORDS[number] if number < len(_WORDS) else str(number)


def first_sentence(text: str) -> str:
    """The first sentence of an author's explanation, without Markdown's emphasis."""
    plain = re.sub(r"[*`]+", "", " ".join(text.split()))
    found = re.match(r".{12,}?[.!?](?=\s+[A-Z0-9]|$)", plain)
    return found[0] if found else plain


def _often(count: int, people: int) -> bool:
    return count >= 2 and count >= OFTEN * people


def _of(count: int, people: int) -> str:
    return f"{spoken(count).capitalize()} of {spoken(people)}"


def _slip(slip: SlipRank) -> Finding:
    return Finding(
        f"{_of(slip.count, slip.handed_in)} made the same mistake in exercise {slip.number} "
        f"({slip.title}) and were told: “{first_sentence(slip.told)}”",
        slip.count / slip.handed_in,
    )


def _blank(item: ItemFigures) -> Finding:
    return Finding(
        f"{_of(item.blank, item.trainees)} left exercise {item.number} ({item.title}) blank.",
        item.blank / item.trainees,
    )


def _hard(items: list[ItemFigures]) -> Finding:
    """The exercises that went badly without a mistake that many share, in one sentence."""
    hardest = sorted(items, key=lambda item: item.difficulty)
    named = "; ".join(f"{i.number}, {i.title} ({100 * i.difficulty:.0f} %)" for i in hardest)
    return Finding(
        f"Few marks were earned, for different reasons, in exercise {named}: "
        "go through the working together.",
        # Below mistakes that can be named: those tell the trainer what to say.
        0.0,
    )


def _backwards(item: ItemFigures) -> Finding:
    return Finding(
        f"In exercise {item.number} ({item.title}) the stronger trainees did worse than the weaker "
        "ones: read its text and its check again.",
        0.5,
    )
