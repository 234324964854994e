"""Who was dealt workbooks and is no longer in the roster: gone, or there with another id."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealt import Deal
from labkit.classroom.errors import ClassError
from labkit.classroom.roster import Trainee

_NEAR: Final = 0.85
"""From this share of equal letters on, two names may be one that was typed twice (chosen)."""
_TOLD: Final = 10


@dataclass(frozen=True, slots=True)
class Gone:
    """Somebody who was dealt workbooks and whose id the roster no longer has.

    `again` is who stands there with the same name, or nearly the same; None where nobody does.
    """

    id: str
    name: str
    again: Trainee | None

    @property
    def same_name(self) -> bool:
        """Whether that name is the same but for accents, capitals and the order of its words."""
        return self.again is not None and _plain(self.again.name) == _plain(self.name)

    def sentence(self, roster: str) -> str:
        """What the instructor should know, and do."""
        said = f"{self.name} ({self.id}) was dealt workbooks and is no longer in {roster}"
        if self.again is None:
            return f"{said}: put the id back if it was changed there; what they did stays as it is."
        alike = "the same" if self.same_name else "nearly the same"
        return (
            f"{said}, and {self.again.name} ({self.again.id}) there has {alike} name. If they are "
            f"one person, put the id '{self.id}' back, or say so: labkit records CLASS --same "
            f"{self.id} {self.again.id} --reason …. Otherwise they have two results."
        )


def gone_from_roster(folder: ClassFolder, deal: Deal) -> list[Gone]:
    """Who was dealt something and is not in the roster; nobody while it cannot be read."""
    try:
        return gone_among(folder.trainees, deal)
    except ClassError:
        return []


def gone_among(present: Sequence[Trainee], deal: Deal) -> list[Gone]:
    """Who was dealt something and is not among those present."""
    ids = {person.id for person in present}
    return [
        Gone(trainee, name, _again(name, present))
        for trainee, name in deal.dealt.people()
        if trainee not in ids
    ]


def remarks_on_gone(folder: ClassFolder, deal: Deal) -> Iterator[str]:
    """A sentence for each of them, those who may be there with another id first."""
    gone = sorted(gone_from_roster(folder, deal), key=lambda one: one.again is None)
    roster = folder.roster_file.name if gone else ""
    for one in gone[:_TOLD]:
        yield one.sentence(roster)
    if len(gone) > _TOLD:
        yield f"{len(gone) - _TOLD} more were dealt workbooks and are no longer in {roster}."


def require_no_changed_ids(folder: ClassFolder, deal: Deal) -> None:
    """Raise `ClassError` when somebody would be dealt a second first workbook for a changed id."""
    if changed := changed_id(folder.trainees, deal, folder.roster_file.name):
        raise ClassError(f"Nothing was dealt. {changed}")


def changed_id(present: Sequence[Trainee], deal: Deal, roster: str) -> str:
    """Whose id seems to be another one than they were dealt by, in words; "" for nobody's.

    That is so when nothing was dealt to their id and somebody of the same name is gone. Nobody may
    have an id that was somebody else's either: they would get the same workbook.
    """
    used = {item.origin[0]: item for item in deal.dealt if item.origin[0] != item.trainee}
    for person in present:
        if person.id in used:
            return (
                f"The id '{person.id}' was that of {used[person.id].name} "
                f"({used[person.id].trainee}), and their workbooks follow from it: give "
                f"{person.name} another id in {roster}."
            )
    dealt = {trainee for trainee, _ in deal.dealt.people()}
    for one in gone_among(present, deal):
        if one.same_name and one.again and one.again.id not in dealt:
            return f"{one.sentence(roster)} If they are two, make their names differ in the roster."
    return ""


def _again(name: str, present: Sequence[Trainee]) -> Trainee | None:
    """Who of those present has this name; else who has nearly this name."""
    wanted = _plain(name)
    named = [(_plain(person.name), person) for person in present]
    for plain, person in named:
        if plain == wanted:
            return person
    return max(
        ((_alike(wanted, plain), person) for plain, person in named if _alike(wanted, plain)),
        key=lambda found: found[0],
        default=(0.0, None),
    )[1]


def _alike(one: str, other: str) -> float:
    """The share of equal letters; 0 below `_NEAR`, and for another number in the name."""
    if [*filter(str.isdigit, one)] != [*filter(str.isdigit, other)]:
        return 0.0
    matcher = SequenceMatcher(None, one, other, autojunk=False)
    if matcher.real_quick_ratio() < _NEAR or matcher.quick_ratio() < _NEAR:
        return 0.0
    ratio = matcher.ratio()
    return ratio if ratio >= _NEAR else 0.0


def _plain(name: str) -> str:
    """A name without accents, capitals, punctuation and the order of its words."""
    taken_apart = unicodedata.normalize("NFKD", name.casefold())
    letters = "".join(
        char if char.isalnum() else " " for char in taken_apart if not unicodedata.combining(char)
    )
    return " ".join(sorted(letters.split()))
