"""The page for whoever sent a class: what the test before and the test after show. No names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from markupsafe import Markup

from labkit.classroom.analysis.charts import LEAST_LINES, gain_chart, pair_chart
from labkit.classroom.analysis.gain import Gain, gain_of
from labkit.classroom.class_file import ClassFields
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.filling import filled
from labkit.classroom.marks.results import Scoring
from labkit.classroom.private_place import Place
from labkit.classroom.result import Result
from labkit.lab.definition import Lab

GAIN_PAGE: Final = "gain.html"
_BEFORE: Final = 1
_AFTER: Final = 2
"""The attempts that are the test before and the test after; a later retake is neither."""
_MOST_DECIMALS: Final = 3


@dataclass(frozen=True, slots=True)
class LabGain:
    """What one lab that everybody is dealt twice shows.

    `gain` is None until somebody handed in both. Left out of it, by name: who has `only_before`,
    `only_after` or `neither`, and `guests`, whose work was another's too. `waiting` are exercises
    that wait for somebody's mark: they are in neither result.
    """

    lab: Lab
    gain: Gain | None
    only_before: tuple[str, ...]
    only_after: tuple[str, ...]
    neither: tuple[str, ...]
    guests: tuple[str, ...]
    waiting: tuple[str, ...]

    @property
    def left_out(self) -> list[str]:
        """Who is not in the gain, in numbers."""
        told = (
            (self.only_before, "took only the test before"),
            (self.only_after, "took only the test after"),
            (self.neither, "took neither"),
            (self.guests, "worked in another's workbook, whose result counts once"),
        )
        return [f"{len(names)} {words}" for names, words in told if names]


def lab_gains(fields: ClassFields, scoring: Scoring) -> tuple[LabGain, ...]:
    """Of each lab that the class deals twice."""
    labs = [lab for lab in fields.tests if lab in scoring.labs]
    if not labs:
        return ()
    found: dict[str, list[Result]] = {lab: [] for lab in labs}
    for result in scoring.results.every():
        if result.dealt.lab in found:
            found[result.dealt.lab].append(result)
    return tuple(_gain(scoring.labs[lab], results) for lab, results in found.items())


def write_gain(folder: ClassFolder, gains: Sequence[LabGain]) -> Path | None:
    """Write `gain.html` into the class's scores, where the class has such a test."""
    if not gains:
        return None
    return Place(folder.scores).write(gain_page(folder, gains), GAIN_PAGE)


def gain_page(folder: ClassFolder, gains: Sequence[LabGain]) -> str:
    """A sheet a lab. It names no trainee."""
    return filled(
        "gain.html",
        title=folder.fields.title,
        date=folder.fields.spoken_date,
        place=folder.fields.place,
        labs=[
            {
                "lab": one.lab,
                "gain": one.gain,
                "figures": figures(one.gain) if one.gain else {},
                "left_out": one.left_out,
                "waiting": one.waiting,
                "pairs": Markup(pair_chart(one.gain)) if one.gain else "",
                "mean": Markup(gain_chart(one.gain)) if one.gain else "",
                "lines": one.gain is not None and len(one.gain.pairs) >= LEAST_LINES,
            }
            for one in gains
        ],
    )


def figures(gain: Gain) -> dict[str, str]:
    """The figures as people read them, with as few decimals as let after − before be the gain."""
    for places in range(_MOST_DECIMALS + 1):
        before, after, points = (round(x, places) for x in (gain.before, gain.after, gain.gain))
        if round(after - before - points, 6) == 0:
            break
    interval = gain.interval
    return {
        "before": f"{gain.before:.{places}f}",
        "after": f"{gain.after:.{places}f}",
        "gain": _signed(gain.gain, places),
        "low": _signed(interval.low, places) if interval else "",
        "high": _signed(interval.high, places) if interval else "",
    }


def in_one_line(one: LabGain) -> str:
    """The gain, as a trainer says it in passing."""
    if one.gain is None:
        return "Nobody has handed in both tests yet."
    told = figures(one.gain)
    reach = f" (95 % interval {told['low']} to {told['high']})" if one.gain.interval else ""
    people = len(one.gain.pairs)
    return (
        f"Before {told['before']} %, after {told['after']} %: {told['gain']} percentage points"
        f"{reach}, of {people} who took both."
    )


def _signed(points: float, places: int) -> str:
    text = f"{points:+.{places}f}".replace("-", "−")
    return text[1:] if float(f"{points:.{places}f}") == 0 else text


def _gain(lab: Lab, results: Sequence[Result]) -> LabGain:
    marks = [mark for result in results for mark in result.marks]
    waiting = {mark.exercise: f"{mark.number}. {mark.title}" for mark in marks if mark.awaits}
    by_person: dict[str, dict[int, Result]] = {}
    for result in results:
        by_person.setdefault(result.dealt.trainee, {})[result.dealt.attempt] = result
    pairs: list[tuple[float, float]] = []
    left: dict[str, list[str]] = {"before": [], "after": [], "neither": [], "guest": []}
    for attempts in by_person.values():
        name = next(iter(attempts.values())).dealt.name
        both = [_percent(attempts.get(number), waiting) for number in (_BEFORE, _AFTER)]
        before, after = both
        if any(one.as_guest for number, one in attempts.items() if number <= _AFTER):
            left["guest"].append(name)
        elif before is not None and after is not None:
            pairs.append((before, after))
        else:
            left[_only(before, after)].append(name)
    return LabGain(
        lab,
        gain_of(pairs) if pairs else None,
        only_before=tuple(left["before"]),
        only_after=tuple(left["after"]),
        neither=tuple(left["neither"]),
        guests=tuple(left["guest"]),
        waiting=tuple(waiting.values()),
    )


def _only(before: float | None, after: float | None) -> str:
    if before is not None:
        return "before"
    return "neither" if after is None else "after"


def _percent(result: Result | None, waiting: dict[str, str]) -> float | None:
    """A result over what is marked of everybody; None where there is none."""
    if result is None or not result.counts:
        return None
    marks = [mark for mark in result.marks if not mark.voided and mark.exercise not in waiting]
    possible = sum(mark.possible for mark in marks)
    return 100 * sum(mark.earned for mark in marks) / possible if possible else None
