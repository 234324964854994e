"""What does somebody earn who knows nothing, where part of the marks is given for a part?

Full marks without knowing are `guessing.py`'s. Here it is what a way earns on average: the order
that is shown turned round, one partner for everything, the same boxes in every draw.
"""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import ClassVar, Final

from labkit.doors.check import AnswersByNames, BlindGuess, GuessedBlindly, Json
from labkit.lab.definition import Exercise
from labkit.proofing.findings import Finding, Severity, Share
from labkit.proofing.sample import Kept

LOOK_SHARE: Final = 0.50
"""A mean share of the marks above this is told."""

_DRAWS: Final = 100
"""A mean share of so many draws is known to 5 % (standard error)."""
_SETS: Final = 3


@dataclass(frozen=True, kw_only=True)
class EarnedBlindly(Finding):
    """A way to answer without knowing anything earns too many marks on average."""

    id: ClassVar[str] = "earned-blindly"
    usual: ClassVar[Severity] = Severity.LOOK
    """Every part may be asked for fairly, and only their number be too small."""
    way: str
    share: float
    draws: int

    @property
    def sentence(self) -> str:
        """The way, and what it earns."""
        return (
            f"without knowing anything, {self.way} earns {100 * self.share:.0f} % of the marks on "
            f"average in {self.draws} draws (told above {100 * LOOK_SHARE:.0f} %)."
        )

    @property
    def mend(self) -> str:
        """More to be decided."""
        return "Add more that is wrong, or draw so that the right answer differs more."


@dataclass(frozen=True, kw_only=True)
class RightAsShown(Finding):
    """What is shown is the right answer already."""

    id: ClassVar[str] = "right-as-shown"
    way: str
    draws: Share

    @property
    def sentence(self) -> str:
        """What is shown, and how often it is right."""
        return f"in {self.draws}, {self.way} is right."

    @property
    def mend(self) -> str:
        """The kind deals it."""
        return "Tell whoever made this kind of exercise: it must not show things so."


def blind_findings(exercise: Exercise, kept: Sequence[Kept]) -> list[Finding]:
    """The way that earns most, where it earns too much; and what is right as it is shown."""
    looked_at = kept[:_DRAWS]
    found: list[Finding] = []
    place = exercise.place_of("kind")
    for way, right in _as_shown(looked_at).items():
        found.append(RightAsShown(place=place, exercise=exercise.id, way=way, draws=right))
    way, share = max(_earned(looked_at).items(), key=lambda each: each[1], default=("", 0.0))
    if share > LOOK_SHARE:
        found.append(
            EarnedBlindly(
                place=place,
                exercise=exercise.id,
                way=way,
                share=round(share, 3),
                draws=len(looked_at),
            )
        )
    return found


def _as_shown(kept: Sequence[Kept]) -> dict[str, Share]:
    """Each way to leave things as they are shown that is right in a draw."""
    right = Counter(
        guess.way
        for one in kept
        for guess in _guesses(one)
        if guess.as_shown and one.verdict_on(guess.answer).right
    )
    return {way: Share(count, len(kept)) for way, count in right.items()}


def _earned(kept: Sequence[Kept]) -> dict[str, float]:
    """What each way earns on average; in a draw where it is not open, nothing."""
    named = _commonest(kept)
    blind = _credits(kept, [_blind(one) for one in kept])
    fixed = _credits(kept, [_by_names(one, named) for one in kept])
    # Where the same answer earns all or nothing it is a guess at full marks.
    in_part = {way: each for way, each in fixed.items() if any(0 < credit < 1 for credit in each)}
    return {way: sum(each) / len(kept) for way, each in (blind | in_part).items()}


def _credits(
    kept: Sequence[Kept], ways: Sequence[Iterable[tuple[str, Json]]]
) -> dict[str, list[float]]:
    credits: dict[str, list[float]] = defaultdict(list)
    for one, mine in zip(kept, ways, strict=True):
        for way, answer in mine:
            credits[way].append(one.verdict_on(answer).credit)
    return credits


def _guesses(one: Kept) -> Sequence[BlindGuess]:
    return one.check.guesses(one.ask) if isinstance(one.check, GuessedBlindly) else []


def _blind(one: Kept) -> Iterator[tuple[str, Json]]:
    yield from ((guess.way, guess.answer) for guess in _guesses(one) if not guess.as_shown)


def _commonest(kept: Sequence[Kept]) -> list[list[str]]:
    """The right answers by the author's names, those of most draws."""
    names = Counter(
        json.dumps(one.check.by_names(*one.made(), one.right))
        for one in kept
        if isinstance(one.check, AnswersByNames)
    )
    return [json.loads(text) for text, _ in names.most_common(_SETS)]


def _by_names(one: Kept, named: Sequence[list[str]]) -> Iterator[tuple[str, Json]]:
    check = one.check
    if not isinstance(check, AnswersByNames):
        return
    for names in named:
        way = f"choosing {', '.join(map(repr, names)) or 'none of them'} always"
        yield way, check.from_names(*one.made(), names)
