"""The mark of one exercise, and all that explains it."""

from __future__ import annotations

from dataclasses import dataclass

from labkit.doors.verdict import Verdict


@dataclass(frozen=True, slots=True)
class Mark:
    """The mark of one exercise: `earned` of `possible`, and all that explains it.

    `voided` exercises count for nobody. `marked_by` names the person who gave the mark, and `note`
    is what they wrote; both are empty where the calculation gave it. `since` is when this mark came
    to hold, as the records have it.
    """

    exercise: str
    number: int
    title: str
    possible: float
    earned: float
    answer: str
    answered: bool
    verdict: Verdict
    tries: int
    hints: int
    hint_cost: float
    voided: bool = False
    marked_by: str = ""
    note: str = ""
    answer_digest: str = ""
    since: str = ""

    @property
    def slip(self) -> str:
        """The known mistake that cost marks; "" when there is none."""
        spared = self.verdict.right or self.marked_by or self.voided
        return "" if spared else self.verdict.slip

    @property
    def awaits(self) -> bool:
        """Whether a person must still mark it."""
        return self.verdict.awaits and not self.marked_by
