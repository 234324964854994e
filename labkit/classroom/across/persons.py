"""Who is one person in several classes, and who is to be trained again, by when."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from labkit.classroom.across.seen import Attendance
from labkit.classroom.certificates.statement import Statement


@dataclass(frozen=True, slots=True)
class Person:
    """One person: their classes, the earliest first, and what the trainer should look at."""

    classes: tuple[Attendance, ...]
    remark: str = ""

    @property
    def id(self) -> str:
        """The id in their last class."""
        return self.classes[-1].trainee

    @property
    def name(self) -> str:
        """The name in their last class."""
        return self.classes[-1].name


@dataclass(frozen=True, slots=True)
class Due:
    """A certificate that ends: whose it is, of what, and its last day as YYYY-MM-DD."""

    person: Person
    title: str
    serial: str
    until: str
    over: bool


def persons(attendances: Iterable[Attendance]) -> list[Person]:
    """The people of several classes, by name.

    Two are one where `class.yaml` says that the ids of both classes are of one list (`home_page`)
    and the ids are the same. Where a class does not say so, the same id with the same name is one
    person, and the same id with another name two, of which both are remarked on: labkit never
    takes two for one by a name alone.
    """
    found: dict[tuple[str, str, str], list[Attendance]] = {}
    for one in attendances:
        words = "" if one.ids_of else _plain(one.name)
        found.setdefault((one.ids_of, one.trainee.casefold(), words), []).append(one)
    alike: dict[str, list[str]] = {}
    for (ids_of, trainee, _), theirs in found.items():
        if not ids_of:
            alike.setdefault(trainee, []).append(theirs[-1].name)
    made = [
        Person(tuple(sorted(theirs, key=lambda one: one.day)), _remark(key, alike))
        for key, theirs in found.items()
    ]
    return sorted(made, key=lambda person: (person.name.casefold(), person.id))


def _remark(key: tuple[str, str, str], alike: dict[str, list[str]]) -> str:
    ids_of, trainee, words = key
    others = [name for name in alike.get(trainee, ()) if _plain(name) != words]
    if ids_of or not others:
        return ""
    return (
        f"The id '{trainee}' is also that of {', '.join(others)}, in another class. Are they one "
        "person, or is one id of them given twice? Where ids are of one list, say so by "
        "'home_page' in class.yaml."
    )


def due(people: Iterable[Person], today: date) -> list[Due]:
    """The certificates that end, the soonest first, without those that a later one renewed."""
    found = [
        Due(person, said.title, said.serial, said.until, said.over(today))
        for person in people
        for said in _ending(person)
    ]
    return sorted(found, key=lambda one: (one.until, one.person.name))


def _ending(person: Person) -> Iterator[Statement]:
    held = [
        one.certificate.statement
        for one in person.classes
        if one.certificate and one.certificate.statement
    ]
    return (said for said in held if said.until and not _renewed(said, held))


def _renewed(said: Statement, held: Sequence[Statement]) -> bool:
    """Whether another one holds longer and certifies at least the same labs."""
    labs = {lab.title for lab in said.labs}
    return any(
        labs <= {lab.title for lab in other.labs} and (not other.until or other.until > said.until)
        for other in held
        if other is not said
    )


def _plain(name: str) -> str:
    """A name without the order of its words, their case and their accents' form."""
    words = unicodedata.normalize("NFKC", name).casefold().replace(",", " ").split()
    return " ".join(sorted(words))
