"""Can every slip be met, told from the right answer and from the other slips?"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import ClassVar, Final

from labkit.kinds.common.span import ENDS
from labkit.lab.definition import Exercise, Lab
from labkit.language.problems import DefinitionError, Place
from labkit.proofing.counting import Cases, add_all, both
from labkit.proofing.findings import Finding, Severity, Share, shown
from labkit.proofing.sample import Drawn, Tried, declared, formula_at, right_value

MUST_TOLERATE: Final = 0.10
"""A tolerance that takes a slip for right in more than this share of the draws must be mended."""
LOOK_TAKEN: Final = 0.10
"""A slip that is told as another one in more than this share of the draws is worth a look."""


@dataclass(frozen=True, kw_only=True)
class _OfSlip(Finding):
    slip: str

    @property
    def of(self) -> str:
        """The slip."""
        return self.slip


@dataclass(frozen=True, kw_only=True)
class SlipNeverTold(_OfSlip):
    """A slip that no trainee is ever told."""

    id: ClassVar[str] = "slip-never-told"
    reason: str
    draws: int

    @property
    def sentence(self) -> str:
        """Why nobody is told."""
        return f"the slip '{self.slip}' is told in none of {self.draws} draws: {self.reason}."

    @property
    def mend(self) -> str:
        """Another formula, or none."""
        return "Mend its formula, or take the slip out."


@dataclass(frozen=True, kw_only=True)
class SlipIsRight(_OfSlip):
    """In some draws the slip's way leads to the right answer."""

    id: ClassVar[str] = "slip-is-right"
    usual: ClassVar[Severity] = Severity.LOOK
    """Some labs want it so: the mistake does not show in every draw."""
    draws: Share

    @property
    def sentence(self) -> str:
        """How often."""
        return (
            f"the slip '{self.slip}' gives the right answer in {self.draws}, such as seed "
            f"{self.seed}: there nobody sees the mistake."
        )

    @property
    def mend(self) -> str:
        """A rule, where it is not wanted."""
        return "If every draw is to show it, keep such draws out with a rule in 'valid'."


@dataclass(frozen=True, kw_only=True)
class ToleranceTakesSlip(_OfSlip):
    """The slip's answer differs from the right one, and is taken for right all the same."""

    id: ClassVar[str] = "tolerance-takes-slip"
    answer: str
    right: str
    one_sided: bool
    draws: Share

    @property
    def severity(self) -> Severity:
        """A few draws are worth a look, many are unfair."""
        return Severity.MUST if self.draws.part > MUST_TOLERATE else Severity.LOOK

    @property
    def sentence(self) -> str:
        """Both answers of a draw that shows it."""
        what = "span" if self.one_sided else "tolerance"
        return (
            f"the {what} takes the slip '{self.slip}' for right in {self.draws} (must be mended "
            f"above {100 * MUST_TOLERATE:.0f} %): with seed {self.seed} it gives {self.answer}, "
            f"and {self.right} is right."
        )

    @property
    def mend(self) -> str:
        """A smaller tolerance, or draws that lie further apart."""
        what = "'up to' or 'down to' nearer" if self.one_sided else "the tolerance smaller"
        return f"Make {what}, or draw values that set the two further apart."


@dataclass(frozen=True, kw_only=True)
class SlipToldAsAnother(_OfSlip):
    """In some draws two mistakes lead to one answer, and the other one is told."""

    id: ClassVar[str] = "slip-told-as-another"
    usual: ClassVar[Severity] = Severity.LOOK
    """An answer may come about in two ways."""
    other: str
    draws: Share

    @property
    def sentence(self) -> str:
        """Which is told instead, how often."""
        return (
            f"the answer of the slip '{self.slip}' is told as '{self.other}' in {self.draws} (told "
            f"above {100 * LOOK_TAKEN:.0f} %), such as seed {self.seed}: who made this mistake "
            "reads of another."
        )

    @property
    def mend(self) -> str:
        """Draws apart, or words for both."""
        return (
            "Draw values that set the two further apart, make the tolerance smaller, or let both "
            "say what the answer may come from."
        )


@dataclass(frozen=True, kw_only=True)
class SlipUnreadable(_OfSlip):
    """The slip's answer cannot be read as an answer to this exercise."""

    id: ClassVar[str] = "slip-unreadable"
    answer: str
    reason: str
    draws: Share

    @property
    def sentence(self) -> str:
        """What the check says of it."""
        return (
            f"the answer '{self.answer}' of the slip '{self.slip}' cannot be read in {self.draws}, "
            f"such as seed {self.seed}: '{self.reason}'"
        )

    @property
    def mend(self) -> str:
        """It has to be an answer that somebody would type."""
        return "Let its formula give a number in the exercise's unit, as a trainee would type it."


@dataclass(slots=True)
class _Seen:
    draws: int = 0
    told: int = 0
    same_as: Counter[str] = field(default_factory=Counter)
    taken: Cases[str] | None = None
    equal: Cases[str] | None = None
    tolerated: Cases[Tried] | None = None
    unreadable: Cases[tuple[Tried, str, str]] | None = None

    def add(self, later: _Seen) -> None:
        self.draws += later.draws
        self.told += later.told
        self.same_as.update(later.same_as)
        self.taken = both(self.taken, later.taken)
        self.equal = both(self.equal, later.equal)
        self.tolerated = both(self.tolerated, later.tolerated)
        self.unreadable = both(self.unreadable, later.unreadable)


@dataclass(slots=True)
class Slips:
    """Watches every slip over the draws."""

    lab: Lab
    _seen: dict[tuple[str, str], _Seen] = field(default_factory=dict)

    def see(self, drawn: Drawn) -> None:
        """Take one draw in."""
        for tried in drawn.tried:
            written = declared(tried.exercise, "slips")
            for name in {**written, **dict.fromkeys(tried.slips)}:
                seen = self._seen.setdefault((tried.exercise.id, name), _Seen())
                seen.draws += 1
                _look(tried, name, written.get(name), seen)

    def add(self, later: Slips) -> None:
        """Add what later draws gave."""
        add_all(self._seen, later._seen)

    def findings(self) -> list[Finding]:
        """What is wrong with slips, in the order of the text."""
        found: list[Finding] = []
        for exercise in self.lab.exercises:
            for (owner, name), seen in self._seen.items():
                if owner == exercise.id:
                    place = _place(exercise, name)
                    found += _findings(exercise, name, seen, place)
        return found


def _look(tried: Tried, name: str, index: int | None, seen: _Seen) -> None:
    if name in tried.slips:
        verdict, answer = tried.slip_verdicts[name], tried.slips[name]
    else:
        typed = _typed(tried, index)
        if typed is None:
            return
        verdict, answer = tried.verdict_on(typed), typed
    if not verdict.readable:
        case = (tried, shown(answer), verdict.message)
        seen.unreadable = both(seen.unreadable, Cases(case))
    elif verdict.right:
        if _equal(tried, index):
            seen.equal = both(seen.equal, Cases(tried.scenario.seed))
        else:
            seen.tolerated = both(seen.tolerated, Cases(tried))
    elif verdict.slip == name:
        seen.told += 1
    else:
        seen.same_as[verdict.slip] += 1
        seen.taken = both(seen.taken, Cases(tried.scenario.seed))


def _slip_value(tried: Tried, index: int | None) -> float | None:
    formula = None if index is None else formula_at(tried.exercise, "slips", index, "answer")
    if formula is None:
        return None
    try:
        return formula.number(tried.scenario.names)
    except DefinitionError:
        return None


def _typed(tried: Tried, index: int | None) -> str | None:
    value = _slip_value(tried, index)
    return None if value is None else tried.typed(value)


def _equal(tried: Tried, index: int | None) -> bool:
    """Whether the slip's number is the right one itself; also where there are no two numbers."""
    wrong, right = _slip_value(tried, index), right_value(tried)
    if wrong is None or right is None:
        return True
    return abs(wrong - right) <= 1e-9 * max(1.0, abs(right))


def _place(exercise: Exercise, name: str) -> Place:
    for group in ("slips", "options"):
        index = declared(exercise, group).get(name)
        if index is not None:
            return exercise.place_of(group, index, "id")
    return exercise.place


def _findings(exercise: Exercise, name: str, seen: _Seen, place: Place) -> list[Finding]:
    found: list[Finding] = []
    if seen.unreadable:
        tried, answer, reason = seen.unreadable.first
        found.append(
            SlipUnreadable(
                place=place,
                exercise=exercise.id,
                slip=name,
                answer=answer,
                reason=reason,
                seed=tried.scenario.seed,
                draws=Share(seen.unreadable.count, seen.draws),
            )
        )
    is_written = name in declared(exercise, "slips")
    if is_written and not seen.told and not found:
        return [
            SlipNeverTold(
                place=place,
                exercise=exercise.id,
                slip=name,
                reason=_reason(seen),
                draws=seen.draws,
            )
        ]
    if seen.taken and seen.taken.count > LOOK_TAKEN * seen.draws:
        found.append(
            SlipToldAsAnother(
                place=place,
                exercise=exercise.id,
                slip=name,
                other=seen.same_as.most_common(1)[0][0] or "no known mistake",
                seed=seen.taken.first,
                draws=Share(seen.taken.count, seen.draws),
            )
        )
    if seen.tolerated:
        first = seen.tolerated.first
        index = declared(exercise, "slips").get(name)
        found.append(
            ToleranceTakesSlip(
                place=place,
                exercise=exercise.id,
                slip=name,
                answer=shown(_slip_value(first, index)),
                right=shown(right_value(first)),
                one_sided=any(end in first.key for end in ENDS),
                seed=first.scenario.seed,
                draws=Share(seen.tolerated.count, seen.draws),
            )
        )
    if seen.equal:
        found.append(
            SlipIsRight(
                place=place,
                exercise=exercise.id,
                slip=name,
                seed=seen.equal.first,
                draws=Share(seen.equal.count, seen.draws),
            )
        )
    return found


def _reason(seen: _Seen) -> str:
    if seen.same_as:
        other, count = seen.same_as.most_common(1)[0]
        if count == seen.draws:
            return f"it always gives the answer of '{other}', which is told instead"
        if count > seen.draws / 2:
            return f"it gives the answer of '{other}' in {Share(count, seen.draws)}"
    equal, tolerated = (cases.count if cases else 0 for cases in (seen.equal, seen.tolerated))
    if equal == seen.draws:
        return "it always gives the right answer"
    if equal + tolerated == seen.draws:
        return "its answer always lies within the tolerance of the right one"
    return "its answer is always taken for another"
