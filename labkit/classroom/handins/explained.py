"""What a trainer is told of files that came in: each kind explained once, its files below."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

from labkit.classroom.handins.choosing import Notice, Reason

_AGAIN: Final = (
    "Ask for it again before they leave: their page or their workbook makes it anew, and copies do "
    "no harm."
)
_WORDS: Final[dict[Reason, tuple[str, str]]] = {
    "damaged": ("Damaged", f"Cut off or not whole, and nothing in it counts. {_AGAIN}"),
    "tampered": (
        "Changed after it was made",
        f"The signature does not fit what is in it, and nothing in it counts. {_AGAIN} A copy "
        "of it lies in the class, if you want to look closer.",
    ),
    "foreign": (
        "Of another class",
        "Made for another class or another text of the lab, or no hand-in: nothing in it is kept "
        "or counts. If it was meant for here, somebody has the wrong folder.",
    ),
    "not read": (
        "Not read",
        "labkit could not look into these, or may not: it follows no links, and opens an archive "
        "only within bounds. Everything else was taken in.",
    ),
    "late": (
        "Late",
        "After the deadline, as class.yaml has it. Whether late ones count stands there too.",
    ),
    "too many attempts": (
        "More attempts than allowed",
        "They came in and do not count: class.yaml says how many may.",
    ),
    "received after the deadline": (
        "Came in after the deadline",
        "By the laptop's clock they were made in time, and so they count. That clock is a claim.",
    ),
    "clock": (
        "A clock that cannot be right",
        "Times in a hand-in are those of the laptop. No mark changes by this: ask, if it matters.",
    ),
    "answers at once": (
        "Many answers within a second",
        "No mark changes by this: look, and ask.",
    ),
    "two journals": (
        "From two laptops",
        "Two hand-ins of one workbook of which neither goes on from the other. One counts; ask "
        "which is meant.",
    ),
    "journal damaged": (
        "Part of it was lost at the laptop",
        "What could be read counts. Let them look at their page, and hand in again if an answer is "
        "missing.",
    ),
    "older copy": ("Handed in again later", "Of one workbook the last hand-in counts."),
    "decided before": (
        "Decided by an earlier version",
        "That stays until something new comes in, or the rules in class.yaml change.",
    ),
    "same file twice": ("The same twice", "It came in under two names, and counts once."),
}
"""A short name for each reason, and what it means and what to do; the gravest first."""
_QUIET: Final[frozenset[Reason]] = frozenset({"older copy", "decided before", "same file twice"})


@dataclass(slots=True)
class Explained:
    """Files of which the same is to be said."""

    reason: Reason
    title: str
    sentence: str
    notices: list[Notice] = field(default_factory=list)

    @property
    def quiet(self) -> bool:
        """Whether nobody needs to do anything about it."""
        return self.reason in _QUIET


def explained(notices: Iterable[Notice]) -> list[Explained]:
    """The notices by their reason, the gravest first, each notice once."""
    kinds = {reason: Explained(reason, *words) for reason, words in _WORDS.items()}
    for notice in dict.fromkeys(notices):
        kinds[notice.reason].notices.append(notice)
    return [kind for kind in kinds.values() if kind.notices]
