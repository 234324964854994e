"""Drawn values that an exercise of another lab is worked out from, and that nothing here shows.

Where it was taken from, a text between the exercises may have shown them; that did not come along.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar, Final

from labkit.lab.definition import NETWORK, Exercise, Lab, Picture
from labkit.lab.needs import needs_of
from labkit.language.expression import Formula, Prose
from labkit.proofing.findings import Finding, Severity

_NOT_IN_THE_QUESTION: Final = ("answer", "slips", "working", "hints", "accepted")


@dataclass(frozen=True, kw_only=True)
class NotShown(Finding):
    """Values that trainees would have to know and cannot."""

    id: ClassVar[str] = "not-shown"
    usual: ClassVar[Severity] = Severity.LOOK
    """A number may be shown in a way that nobody can see from here."""
    names: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """The names."""
        return (
            f"the answer hangs on {', '.join(self.names)}, and no text, question or picture of "
            "this lab shows that."
        )

    @property
    def mend(self) -> str:
        """Where to show them."""
        return (
            f"Write a 'question:' of your own with {{{{ {self.names[0]} }}}} in it, or show it in "
            "the text above."
        )


def not_shown(lab: Lab) -> Iterator[NotShown]:
    """For each exercise that was taken from another lab."""
    taken = [exercise for exercise in lab.exercises if exercise.taken]
    if not taken:
        return
    picture = [NETWORK] if any(isinstance(part, Picture) for part in lab.body) else []
    shown = needs_of(lab, _texts_shown(lab), also=picture).drawn
    for exercise in taken:
        answer = [text for text in exercise.texts if _field(text, exercise) == "answer"]
        missing = needs_of(lab, answer).drawn - shown
        names = tuple(each.name for each in lab.parameters if each.name in missing)
        if names:
            yield NotShown(place=exercise.place, exercise=exercise.id, names=names)


def _texts_shown(lab: Lab) -> Iterator[Formula | Prose]:
    for part in lab.body:
        if isinstance(part, Prose):
            yield part
        elif isinstance(part, Exercise):
            for text in part.texts:
                if _field(text, part) not in _NOT_IN_THE_QUESTION:
                    yield text


def _field(text: Formula | Prose, exercise: Exercise) -> str:
    """The field of an exercise that a text stands in."""
    return text.place.field.removeprefix(f"exercise '{exercise.id}': ").partition(" → ")[0]
