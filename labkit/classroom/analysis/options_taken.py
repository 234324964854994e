"""What a class took of what it could take, and what that shows of those who took it wrongly."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from labkit.classroom.analysis.given import Given, given
from labkit.classroom.analysis.table import column_title
from labkit.classroom.result import Result
from labkit.doors.check import HasOptions, Option
from labkit.doors.installed import check_for

MOST_UNLISTED: Final = 12
"""So many of what nobody had to think of are shown: of twenty steps 190 orders of two can be wrong.
"""

MOST_TYPED: Final = 8
"""So many spellings of one term are shown, the most frequent."""


@dataclass(frozen=True, slots=True)
class OptionUse:
    """One option: for how many it was right, who took it rightly and who wrongly.

    `told` is what it shows where it was taken wrongly, or right and left out, as the first of them
    would be told; `typed` has what was written for it, the most frequent first.
    """

    name: str
    text: str
    right_for: int
    taken_rightly: int
    taken_wrongly: int
    wrong_for: int
    told: str = ""
    typed: tuple[tuple[str, int], ...] = ()

    @property
    def taken(self) -> int:
        """How many took it."""
        return self.taken_rightly + self.taken_wrongly

    @property
    def rightly(self) -> str:
        """How many took it rightly, in words; "–" where it was right for nobody."""
        return f"{self.taken_rightly} of {self.right_for}" if self.right_for else "–"

    @property
    def wrongly(self) -> str:
        """How many took it wrongly, in words; "–" where it was wrong for nobody."""
        return f"{self.taken_wrongly} of {self.wrong_for}" if self.wrong_for else "–"

    @property
    def as_typed(self) -> str:
        """What was written for it, in words; "" for what is not written."""
        return ", ".join(f"“{text}” ({count})" for text, count in self.typed[:MOST_TYPED])

    @property
    def idle(self) -> bool:
        """Nobody was drawn to it, though it was wrong for at least five who answered."""
        return self.taken_wrongly == 0 and self.wrong_for >= 5


@dataclass(frozen=True, slots=True)
class OptionsTaken:
    """How the options of one exercise were used; `left_out` more were taken, each by few."""

    lab: str
    number: int
    exercise: str
    title: str
    answered: int
    options: tuple[OptionUse, ...]
    left_out: int = 0


def options_taken(results: Iterable[Result]) -> tuple[OptionsTaken, ...]:
    """For each exercise of a kind that has options, what each did.

    Those who left it blank, or wrote what cannot be read, count nowhere.
    """
    seen: dict[tuple[str, int, str], list[list[Option]]] = defaultdict(list)
    titles: dict[tuple[str, int, str], list[str]] = defaultdict(list)
    for result in results:
        if not result.counts or result.as_guest:
            continue
        for exercise, part in given(result).items():
            options = _options(part)
            if options:
                key = (result.dealt.lab, part.mark.number, exercise)
                titles[key].append(part.mark.title)
                seen[key].append(options)
    return tuple(
        _taken(key, column_title(titles[key]), answers) for key, answers in sorted(seen.items())
    )


def _options(part: Given) -> list[Option]:
    """What this trainee could take; nothing where nothing was answered, or of other kinds."""
    check, answer = check_for(part.exercise.kind), part.record.answer
    ask = part.prepared.ask
    if not isinstance(check, HasOptions) or check.unreadable(ask, answer):
        return []
    return check.options(ask, part.prepared.key_as_needed, answer)


def _taken(
    key: tuple[str, int, str], title: str, answers: Sequence[Sequence[Option]]
) -> OptionsTaken:
    by_name: dict[str, list[Option]] = defaultdict(list)
    for options in answers:
        for option in options:
            by_name[option.name].append(option)
    found = {name: _use(name, options) for name, options in by_name.items()}
    listed = [name for name in found if any(option.listed for option in by_name[name])]
    others = [use for name, use in found.items() if use.taken and name not in listed]
    others.sort(key=lambda use: (-use.taken, use.name))
    shown = [found[name] for name in listed] + others[:MOST_UNLISTED]
    shown.sort(key=lambda use: (by_name[use.name][0].group, -use.taken, -use.right_for, use.name))
    left_out = max(0, len(others) - MOST_UNLISTED)
    return OptionsTaken(*key, title, len(answers), tuple(shown), left_out)


def _use(name: str, options: Sequence[Option]) -> OptionUse:
    """What all who had an option before them did with it."""
    right = [option for option in options if option.right]
    wrong = [option for option in options if not option.right]
    typed = Counter(option.typed for option in options if option.typed)
    return OptionUse(
        name=name,
        text=column_title([option.text for option in options]),
        right_for=len(right),
        taken_rightly=sum(option.taken for option in right),
        taken_wrongly=sum(option.taken for option in wrong),
        wrong_for=len(wrong),
        told=next((option.told for option in options if option.told), ""),
        typed=tuple(sorted(typed.items(), key=lambda each: (-each[1], each[0]))),
    )
