"""Is the lab itself at fault: what in a class's marks points at the text, the check or the draw."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from labkit.classroom.analysis.items import ItemFigures
from labkit.classroom.analysis.teach_again import spoken
from labkit.classroom.analysis.variants import LEAST_TRAINEES, Effect
from labkit.classroom.analysis.whole import LabAnalysis

LEAST_TRIED: Final = 3
"""So many must have answered before it says something that nobody was right (common sense, no
source)."""


def doubts(analysis: LabAnalysis) -> tuple[str, ...]:
    """A sentence for each thing that the lab's author should look at; none where nothing is."""
    return (
        *_nobody(analysis),
        *(_backwards(item) for item in analysis.items if _goes_backwards(item)),
        *map(_draw, analysis.plain_effects),
    )


def without_doubts(analysis: LabAnalysis) -> str:
    """What can be said where there are no doubts: no more than a class of this size tells."""
    people = analysis.table.trainees
    if people < LEAST_TRAINEES:
        return (
            f"Nothing points at the lab; but {spoken(people)} can tell little, and not whether "
            "the numbers that were drawn were equally hard."
        )
    drawn = (
        "no number that was drawn made it harder for somebody beyond chance"
        if analysis.effects
        else "whether the numbers that were drawn were equally hard cannot be told here"
    )
    return (
        "Nothing points at the lab: no exercise was too much for everybody who answered it, in "
        f"none did the stronger clearly do worse than the weaker, and {drawn}. In a class of "
        f"{people} only large effects would show."
    )


def _nobody(analysis: LabAnalysis) -> Iterator[str]:
    table = analysis.table
    answered, right = table.answered.sum(axis=0), table.right.sum(axis=0)
    for place, (number, title) in enumerate(zip(table.numbers, table.titles, strict=True)):
        if answered[place] >= LEAST_TRIED and not right[place]:
            yield (
                f"Nobody of the {spoken(int(answered[place]))} who answered exercise {number} "
                f"({title}) got it right: read its text and its check again before you put it "
                "down to the class."
            )


def _goes_backwards(item: ItemFigures) -> bool:
    return item.discrimination_range is not None and item.discrimination_range.high < 0


def _backwards(item: ItemFigures) -> str:
    return (
        f"In exercise {item.number} ({item.title}) the stronger trainees did worse than the weaker "
        "ones: read its text and its check again."
    )


def _draw(effect: Effect) -> str:
    where = f"In “{effect.title}”" if effect.exercise else "In the whole lab"
    return (
        f"{where} the numbers were not equally hard: whoever was dealt {effect.easier} for "
        f"“{effect.parameter}” (the lab's own word) earned {100 * effect.change:.0f} % more of the "
        f"marks than with {effect.harder}. Narrow its range for the next class; the marks of this "
        "one are yours to judge."
    )
