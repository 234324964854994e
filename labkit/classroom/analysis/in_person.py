"""Who needs a word: what waits, what is missing, and hand-ins that a person should look at."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from labkit.classroom.analysis.whole import LabAnalysis
from labkit.classroom.chance import in_classes
from labkit.classroom.result import Result


@dataclass(frozen=True, slots=True)
class ToSee:
    """Some people (by name) of one lab, and what to see them about; `pair`: whose hand-ins are
    more alike than chance allows."""

    about: str
    people: tuple[str, ...]
    sentence: str
    pair: bool = False


def people_to_see(analysis: LabAnalysis, results: Collection[Result]) -> tuple[ToSee, ...]:
    """Of one lab: who did not hand in, whose marks wait, and the pairs that stand out.

    `results` are the class's. A pair is told in words that accuse nobody: what is found may have
    other reasons, and a person decides.
    """
    own = [result for result in results if result.dealt.lab == analysis.table.lab.id]
    missing = tuple(result.dealt.name for result in own if not result.counts)
    waits = tuple(result.dealt.name for result in own if result.awaits)
    found = []
    if missing:
        found.append(ToSee("Not handed in", missing, ""))
    if waits:
        found.append(ToSee("Waits for your mark", waits, analysis.waits))
    return (*found, *_copied(analysis), *_alike(analysis))


def _copied(analysis: LabAnalysis) -> Iterator[ToSee]:
    for pair in analysis.more_copied:
        writer, owner = _name(analysis, pair.writer), _name(analysis, pair.owner)
        numbers = ", ".join(str(hit.number) for hit in pair.hits)
        yield ToSee(
            "Ask how they worked",
            (writer, owner),
            f"What {writer} wrote in {_exercises(len(pair.hits))} {numbers} is wrong with their "
            f"own numbers and right with those of {owner}. By chance alone such a pair turns up "
            f"in {in_classes(pair.expected)}.",
            pair=True,
        )


def _alike(analysis: LabAnalysis) -> Iterator[ToSee]:
    for pair in analysis.more_alike:
        first, second = _name(analysis, pair.first), _name(analysis, pair.second)
        numbers = ", ".join(str(analysis.table.numbers[index]) for index in pair.exercises)
        yield ToSee(
            "Ask how they worked",
            (first, second),
            f"{first} and {second} made the same mistakes in "
            f"{_exercises(len(pair.exercises))} {numbers}. By chance alone such a pair turns up in "
            f"{in_classes(pair.adjusted)}.",
            pair=True,
        )


def _exercises(count: int) -> str:
    return "exercise" if count == 1 else "exercises"


def _name(analysis: LabAnalysis, position: int) -> str:
    return analysis.table.results[position].dealt.name
