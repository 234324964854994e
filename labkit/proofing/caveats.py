"""Can what is asked be found out at all? Only a kind knows; it says so of a draw.

A check that has a method `caveats(ask, key)` returns what it has to say of one draw as a list of
`Caveat`. It may take long, so only the first draws are looked at.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar, Final

from labkit.doors.check import Caveat, HasCaveats
from labkit.lab.definition import Exercise, Lab
from labkit.proofing.findings import Finding, Severity
from labkit.proofing.sample import PROOF_SEED, Drawn

LOOKED_AT: Final = frozenset(PROOF_SEED.format(number) for number in range(1, 5))
"""The seeds of the draws that a kind is asked about."""


@dataclass(frozen=True, kw_only=True)
class HasTwins(Finding):
    """More than one answer fits everything that can be found out."""

    id: ClassVar[str] = "has-twins"
    usual: ClassVar[Severity] = Severity.NOTE
    """The check takes them all."""
    text: str

    @property
    def sentence(self) -> str:
        """What cannot be told apart, with a draw that shows it."""
        return f"{self.text} So in the draw with seed {self.seed}."

    @property
    def mend(self) -> str:
        """None is needed."""
        return "Nothing must be mended: each of them counts. Let the working name them all."


@dataclass(frozen=True, kw_only=True)
class Unseen(Finding):
    """Something that is asked for cannot be found out."""

    id: ClassVar[str] = "unseen"
    text: str
    assessed_only: bool

    @property
    def severity(self) -> Severity:
        """In practice too, nobody can answer."""
        return Severity.LOOK if self.assessed_only else Severity.MUST

    @property
    def sentence(self) -> str:
        """What cannot be found out, with a draw that shows it."""
        return f"{self.text} So in the draw with seed {self.seed}."

    @property
    def mend(self) -> str:
        """Another case."""
        where = "Keep this case out of assessed classes" if self.assessed_only else "Leave it out"
        return f"{where}, or choose another one that shows."


@dataclass(slots=True)
class Caveats:
    """Asks the kinds that have something to say about the first draws."""

    lab: Lab
    _found: dict[tuple[str, str, bool], Finding] = field(default_factory=dict)

    def see(self, drawn: Drawn) -> None:
        """Take one draw in."""
        if drawn.scenario.seed not in LOOKED_AT:
            return
        for tried in drawn.tried:
            check = tried.check
            if not isinstance(check, HasCaveats):
                continue
            for caveat in check.caveats(tried.ask, tried.key):
                where = (tried.exercise.id, caveat.sort, caveat.assessed_only)
                finding = _finding(tried.exercise, caveat, drawn.scenario.seed)
                self._found.setdefault(where, finding)

    def add(self, later: Caveats) -> None:
        """Add what later draws gave."""
        for where, finding in later._found.items():
            self._found.setdefault(where, finding)

    def findings(self) -> list[Finding]:
        """One of each sort an exercise."""
        return list(self._found.values())


def _finding(exercise: Exercise, caveat: Caveat, seed: str) -> Finding:
    place = exercise.place_of("kind")
    if caveat.sort == "twins":
        return HasTwins(place=place, exercise=exercise.id, seed=seed, text=caveat.text)
    return Unseen(
        place=place,
        exercise=exercise.id,
        seed=seed,
        text=caveat.text,
        assessed_only=caveat.assessed_only,
    )
