"""What a test of outputs says, and what one of inputs says: what it finds is the same for both."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from labkit.kinds.test_plan.data import TestPlanAsk

_LAST: Final = (
    "The site's own rules and your local codes come first, and what they reserve for trained and "
    "permitted people stays theirs."
)


@dataclass(frozen=True, slots=True)
class Words:
    """`never_on` and `unseen` take the names of one point and of two."""

    point: str
    verb: str
    caution: str
    nothing: str
    caption: str
    never_on: str
    unseen: str
    each_on: str


OUTPUTS: Final = Words(
    point="output",
    verb="commands",
    caution=(
        "Every step moves something. Nobody may be in reach of what can move; whoever answers for "
        f"the machine says when; the stop was tried first. {_LAST}"
    ),
    nothing="No output is commanded on yet: tick what is on in each step.",
    caption="Tick what is commanded on in each step; all else is off.",
    never_on="No step commands the {} on: nobody sees whether it follows.",
    unseen=(
        "The {} and the {} are on together or not at all in every step. If they are crossed, the "
        "same moves as if they were not, and nobody sees it."
    ),
    each_on="commands each output on",
)
INPUTS: Final = Words(
    point="input",
    verb="has",
    caution=(
        "Whoever makes an input by hand reaches into the machine, and a program may start "
        "something by it. First the drives are off and locked, compressed air is let out, raised "
        f"loads are secured; whoever answers for the machine says when. {_LAST}"
    ),
    nothing="No input is on yet: tick what is on in each step.",
    caption="Tick which inputs are on in each step, each made at its own place; all else is off.",
    never_on="In no step is the {} on: nobody sees whether the program gets it.",
    unseen=(
        "The {} and the {} are on together or not at all in every step. If they are crossed, the "
        "program gets the same as if they were not, and nobody sees it."
    ),
    each_on="has each input on",
)


def words_of(ask: TestPlanAsk) -> Words:
    """The words for what is tested; of an exercise that does not say, outputs."""
    return INPUTS if ask.get("of") == "inputs" else OUTPUTS
