"""What to teach again: the known mistakes that many share, what was left blank, what went badly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from labkit.classroom.analysis.intervals import Interval, wilson
from labkit.classroom.analysis.items import ItemFigures
from labkit.classroom.analysis.misunderstood import SlipRank
from labkit.classroom.analysis.whole import LabAnalysis

HARD: Final = 0.6
"""An exercise that earned less than this share of its marks is worth coming back to."""
EASY: Final = 0.85
OFTEN: Final = 0.2
"""A mistake that this share of the class made, and at least two people, is worth telling all."""
FIRST: Final = 3
"""So many things are taught again first: more are not remembered (common practice, no source)."""

_WORDS: Final = tuple(
    "nobody one two three four five six seven eight nine ten eleven twelve".split()  # noqa: SIM905
)


@dataclass(frozen=True, slots=True)
class Lesson:
    """One thing to teach again, and about how many `of` how many people it is.

    `told` is the known mistake in the author's words (Markdown), as one of the `sharing` people
    read it who made it; "" where no two made the same. `among_many` is the share among many people
    taught like these, as far as so few can tell it.
    """

    about: Literal["mistake", "blank", "hard"]
    exercise: str
    number: int
    title: str
    count: int
    of: int
    told: str = ""
    sharing: int = 0

    @property
    def among_many(self) -> Interval:
        """The 95 % interval of its share."""
        return wilson(self.count / self.of, self.of)

    @property
    def sentence(self) -> str:
        """How many it is about, and what they did."""
        people = f"{spoken(self.count).capitalize()} of {spoken(self.of)}"
        if self.about == "mistake":
            return f"{people} made this mistake."
        shared = f"; {spoken(self.sharing)} made this mistake" if self.told else ""
        if self.about == "blank":
            return f"{people} left it blank{shared}."
        return f"{people} did not get it right{shared or ', for different reasons'}."

    @property
    def sure(self) -> str:
        """How much a class of this size tells."""
        low, high = round(100 * self.among_many.low), round(100 * self.among_many.high)
        return f"Among many people taught like these it would be {low} to {high} of 100."


def lessons(analysis: LabAnalysis) -> tuple[Lesson, ...]:
    """At most three, an exercise once: mistakes that many share, what was left blank, what went
    badly; where these are fewer, mistakes that two made. Of each kind what most people did."""
    slips = analysis.slips
    often = [slip for slip in slips if _often(slip.count, slip.handed_in)]
    blank = [item for item in analysis.items if _often(item.blank, item.trainees)]
    hard = [item for item in analysis.items if item.difficulty < HARD]
    found = [
        *map(_mistake, often),
        *(_blank(item, slips) for item in sorted(blank, key=lambda item: -item.blank)),
        *(_hard(item, analysis) for item in sorted(hard, key=lambda item: item.difficulty)),
        *(_mistake(slip) for slip in slips if slip.count > 1),
    ]
    first: dict[str, Lesson] = {}
    for lesson in found:
        first.setdefault(lesson.exercise, lesson)
    return tuple(first.values())[:FIRST]


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


def _often(count: int, people: int) -> bool:
    return count >= 2 and count >= OFTEN * people


def _mistake(slip: SlipRank) -> Lesson:
    return Lesson(
        "mistake",
        slip.exercise,
        slip.number,
        slip.title,
        slip.count,
        slip.handed_in,
        slip.told,
        slip.count,
    )


def _blank(item: ItemFigures, slips: Sequence[SlipRank]) -> Lesson:
    return _of_exercise("blank", item, item.blank, slips)


def _hard(item: ItemFigures, analysis: LabAnalysis) -> Lesson:
    place = analysis.table.exercises.index(item.exercise)
    not_right = int((~analysis.table.right[:, place]).sum())
    return _of_exercise("hard", item, not_right, analysis.slips)


def _of_exercise(
    about: Literal["blank", "hard"], item: ItemFigures, count: int, slips: Sequence[SlipRank]
) -> Lesson:
    """With the mistake that most made there, where more than one did."""
    shared = next((s for s in slips if s.exercise == item.exercise and s.count > 1), None)
    told, sharing = (shared.told, shared.count) if shared else ("", 0)
    return Lesson(
        about, item.exercise, item.number, item.title, count, item.trainees, told, sharing
    )
