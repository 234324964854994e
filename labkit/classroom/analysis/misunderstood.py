"""What was misunderstood: slips ranked, told in the author's words, and the use of options."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from labkit.classroom.analysis.given import given, options_of
from labkit.classroom.analysis.table import column_title
from labkit.classroom.mark import Mark
from labkit.classroom.result import Result
from labkit.classroom.verdicts import verdict_on


@dataclass(frozen=True, slots=True)
class SlipRank:
    """One known mistake: who made it, out of how many who handed in that lab.

    `told` is what the lab's author has the trainee read, as the trainee `told_to` read it: the
    numbers in it are that trainee's.
    """

    lab: str
    number: int
    exercise: str
    title: str
    slip: str
    trainees: tuple[str, ...]
    handed_in: int
    told: str
    told_to: str

    @property
    def count(self) -> int:
        """How many trainees made it."""
        return len(self.trainees)


@dataclass(frozen=True, slots=True)
class OptionUse:
    """One option of a choice: for how many it was right, who took it rightly and who wrongly."""

    name: str
    text: str
    right_for: int
    taken_rightly: int
    taken_wrongly: int
    wrong_for: int

    @property
    def idle(self) -> bool:
        """Nobody was drawn to it, though it was wrong for at least five who answered."""
        return self.taken_wrongly == 0 and self.wrong_for >= 5


@dataclass(frozen=True, slots=True)
class ChoiceUse:
    """How the options of one choice exercise were used."""

    lab: str
    number: int
    exercise: str
    title: str
    answered: int
    options: tuple[OptionUse, ...]


def rank_slips(results: Collection[Result]) -> tuple[SlipRank, ...]:
    """Every known mistake that cost marks, the most frequent first."""
    made: dict[tuple[str, int, str, str], list[tuple[Result, Mark]]] = defaultdict(list)
    whole = [result for result in results if not result.as_guest]
    handed_in = Counter(result.dealt.lab for result in whole if result.counts)
    for result in whole:
        for mark in result.marks:
            if mark.slip:
                key = (result.dealt.lab, mark.number, mark.exercise, mark.slip)
                made[key].append((result, mark))
    ranked = [_rank(key, people, handed_in[key[0]]) for key, people in made.items()]
    return tuple(sorted(ranked, key=lambda rank: (-rank.count, rank.lab, rank.number, rank.slip)))


def _rank(
    key: tuple[str, int, str, str], people: list[tuple[Result, Mark]], handed_in: int
) -> SlipRank:
    lab, number, exercise, slip = key
    # Where the author's words differ with the numbers, the first trainee's stand for all.
    result, mark = people[0]
    return SlipRank(
        lab=lab,
        number=number,
        exercise=exercise,
        title=column_title([mark.title for _, mark in people]),
        slip=slip,
        trainees=tuple(result.dealt.trainee for result, _ in people),
        handed_in=handed_in,
        told=meaning_of(result, mark),
        told_to=result.dealt.name,
    )


def meaning_of(result: Result, mark: Mark) -> str:
    """What the mistake means, without what else was told of that answer.

    The records hold all that was told, so the check is asked again; what it says of another mistake
    now counts for nothing. What is marked while the class works is told by its own verdict.
    """
    if mark.verdict.meaning or result.hand_in is None:
        return mark.verdict.meaning or mark.verdict.message
    part = given(result)[mark.exercise]
    verdict = verdict_on(result.scenario, part.exercise, part.record.answer)
    same = verdict.slip == mark.slip
    return (verdict.meaning if same else "") or mark.verdict.message


def choice_use(results: Iterable[Result]) -> tuple[ChoiceUse, ...]:
    """For each choice exercise, what each option did. Those who left it blank count nowhere."""
    seen: dict[tuple[str, int, str], list[_Choice]] = defaultdict(list)
    titles: dict[tuple[str, int, str], list[str]] = defaultdict(list)
    for result in results:
        if not result.counts or result.as_guest:
            continue
        for exercise, part in given(result).items():
            options = options_of(part.prepared)
            if not options:
                continue
            names = part.prepared.key["slips"]
            texts = {str(names[option["id"]]): str(option["text"]) for option in options}
            key = (result.dealt.lab, part.mark.number, exercise)
            titles[key].append(part.mark.title)
            answer = part.record.answer
            chosen = names.get(answer) if isinstance(answer, str) else None
            right = str(names[part.prepared.key["right"]])
            seen[key].append(_Choice(texts, right, None if chosen is None else str(chosen)))
    return tuple(
        ChoiceUse(
            *key,
            title=column_title(titles[key]),
            answered=sum(choice.chosen is not None for choice in choices),
            options=_options(choices),
        )
        for key, choices in sorted(seen.items())
    )


@dataclass(frozen=True, slots=True)
class _Choice:
    """The options' texts by name, the right one's name and the chosen one's (None: none)."""

    texts: dict[str, str]
    right: str
    chosen: str | None


def _options(choices: list[_Choice]) -> tuple[OptionUse, ...]:
    texts: dict[str, list[str]] = defaultdict(list)
    for choice in choices:
        for name, text in choice.texts.items():
            texts[name].append(text)
    answered = [choice for choice in choices if choice.chosen is not None]
    return tuple(
        OptionUse(
            name=name,
            text=column_title(texts[name]),
            right_for=sum(choice.right == name for choice in answered),
            taken_rightly=sum(choice.right == name == choice.chosen for choice in answered),
            taken_wrongly=sum(choice.chosen == name != choice.right for choice in answered),
            wrong_for=sum(name in choice.texts and choice.right != name for choice in answered),
        )
        for name in sorted(texts)
    )
